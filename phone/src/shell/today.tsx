/** The first screen: where to go and whom to answer, and one key that begins a walk from wherever one stands. */
import { useEffect, useState } from "preact/hooks";
import { type ScreenProps, go, href } from "../router";
import { type Point, day, rightNow, useLive } from "../store";
import { lastRun } from "../sync";
import { placeIfAllowed } from "../walk/place";
import { useSites, useTaken } from "../walk/taken";
import { start, useWalking } from "../walk/walking";
import { distance, sayDay, sayMoment, t } from "../words";
import { Due, isSoon } from "./due";
import { Key, buzz } from "./keys";
import { Notices } from "./notices";
import { type Turn, inOrder } from "./order";
import { Page } from "./page";

export function Screen(_: ScreenProps) {
  const taken = useTaken();
  const sites = useSites();
  const walking = useWalking();
  const run = useLive(lastRun, ["sync"]);
  const [here, setHere] = useState<Point>();
  useEffect(() => void placeIfAllowed().then(setHere), []);
  const ready = taken !== undefined && sites !== undefined && walking !== undefined;
  // For who measures how long a start takes: the list is on the screen.
  useEffect(() => void (ready && performance.mark("tepal-today")), [ready]);
  if (taken === undefined || sites === undefined || walking === undefined) return null;

  const turns = inOrder(sites, taken?.calls ?? [], here);
  const begin = async () => {
    await start();
    buzz();
    go("walk");
  };
  return (
    <Page
      title={sayDay(day(rightNow()))}
      thumb={
        walking === null ? (
          <>
            <div class="keys two">
              <Key href={href("report")}>{t("Take a call")}</Key>
              <Key href={href("more")}>{t("More")}</Key>
            </div>
            <Key main onTap={begin}>{t("Start walking")}</Key>
          </>
        ) : (
          <Key main href={href("walk")}>{t("Back to the walk")}</Key>
        )
      }
    >
      <Notices />
      {turns.length === 0 ? (
        <p>{taken === null ? t("Nothing has been taken along yet.") : t("Nothing waits for you today.")}</p>
      ) : (
        <ul class="lines">
          {turns.map((turn) => (
            <li key={turn.site?.id ?? turn.call?.entry}><Line turn={turn} /></li>
          ))}
        </ul>
      )}
      <p class="faint">
        {taken === null
          ? t("A walk can be started all the same; it is kept here until it can be sent.")
          : t("As the office had it on {when}.", { when: sayMoment(taken.server_time) })}{" "}
        {run?.outcome === "unreachable" ? t("No signal now.") : ""}
      </p>
    </Page>
  );
}

function Line({ turn: { site, call, by, metres, blocked } }: { turn: Turn }) {
  const far = metres === undefined ? "" : metres === 0 ? t("you are in it") : t("{far} away", { far: distance(metres) });
  if (call)
    return (
      <a href={href("call", { entry: call.entry })}>
        <b>{call.who ? t("Answer {who}", { who: call.who }) : t("Answer a call")}</b>
        {by ? <>, <span class={isSoon(by) ? "soon" : ""}>{t("by {day}", { day: sayDay(by) })}</span></> : null}
        <br />{call.words}{far ? <span class="faint"> · {far}</span> : null}
      </a>
    );
  if (!site) return null;
  return (
    <a href={href("site", { site: site.id })}>
      <b>{site.name}</b>{far ? <span class="faint"> · {far}</span> : null}
      {blocked ? (
        <><br /><strong>{t("Nobody enters before {when}.", { when: sayMoment(site.blocked_until!) })}</strong> {site.blocked_why}</>
      ) : by ? (
        <><br /><Due text={site.closes?.on === by ? site.closes.what : (site.do?.[0]?.text ?? t("Go back"))} by={by} /></>
      ) : site.sentence ? <><br />{site.sentence}</> : null}
    </a>
  );
}
