/** One call that waits for an answer. */
import { type ScreenProps, href } from "../router";
import { useTaken } from "../walk/taken";
import { sayDay, t } from "../words";
import { Key } from "./keys";
import { Page, home } from "./page";
import { isSoon } from "./due";

export function Screen({ params }: ScreenProps) {
  const taken = useTaken();
  if (taken === undefined) return null;
  const call = taken?.calls.find((one) => one.entry === params["entry"]);
  if (!call) return <Page title={t("This call is not on the phone")} back={home}><p>{t("Somebody may have answered it.")}</p></Page>;
  return (
    <Page
      title={call.who ?? t("A call")}
      back={home}
      thumb={
        <>
          {call.site ? <Key href={href("plant", { site: call.site })}>{t("Look at a plant")}</Key> : null}
          {call.site ? <Key main href={href("site", { site: call.site })}>{t("Go to the site")}</Key> : <Key main href={href("walk")}>{t("Start walking")}</Key>}
        </>
      }
    >
      <p>“{call.words}”</p>
      {call.place ? <p>{call.place}</p> : null}
      {call.answer_by ? <p>{t("Answer promised")} <span class={isSoon(call.answer_by) ? "soon" : ""}>{t("by {day}", { day: sayDay(call.answer_by) })}</span>.</p> : null}
    </Page>
  );
}
