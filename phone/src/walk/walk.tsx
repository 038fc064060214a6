/** A walk under way: how far, where, and one key for a stop. */
import { useEffect, useState } from "preact/hooks";
import { type ScreenProps, go, href } from "../router";
import { Key, buzz } from "../shell/keys";
import { Page, home } from "../shell/page";
import { Trouble, useSaving } from "../shell/saving";
import { distance, plural, sayMoment, sayTime, t } from "../words";
import { toSite } from "./ground";
import { SiteMap } from "./map";
import { useHere } from "./place";
import { isBlocked, useAerial, useSites } from "./taken";
import { gaps, lines, metresWalked } from "./track";
import { belongsTo, giveUp, pause, resume, start, useFixes, useStops, useWalking } from "./walking";

export function Screen({ params }: ScreenProps) {
  const walking = useWalking();
  const sites = useSites();
  const fixes = useFixes(walking?.id);
  const stops = useStops(walking?.id);
  const { here, lack, staysOn } = useHere();
  const saving = useSaving();
  const [leaving, setLeaving] = useState(false);
  const site = sites?.find((one) => one.id === walking?.site);
  const aerial = useAerial(site);

  useEffect(() => {
    if (walking === null) void saving.run(() => start(params["site"]));
  }, [walking === null]);

  if (!walking || sites === undefined || fixes === undefined || stops === undefined) return <Page title={t("Walk")}><Trouble saving={saving} /></Page>;

  // In somebody's field without having said so: offer its name, once nothing hangs on the new place yet.
  const within = here && walking.place && stops.length === 0 && !site
    ? sites.filter((one) => (toSite(here.at, one) ?? Infinity) < 100).sort((a, b) => toSite(here.at, a)! - toSite(here.at, b)!)[0]
    : undefined;
  const missing = gaps(fixes);
  const counted = stops.length === 0 ? "" : plural("{n} stop so far.", "{n} stops so far.", stops.length);

  return (
    <Page
      title={site?.name ?? (walking.place?.name || t("A new place"))}
      back={home}
      thumb={
        <>
          <div class="keys three">
            {walking.paused ? <Key onTap={resume}>{t("Go on")}</Key> : <Key onTap={pause}>{t("Rest")}</Key>}
            <Key href={href("plant", { site: walking.site })}>{t("A plant")}</Key>
            <Key href={href("end")}>{t("Finish")}</Key>
          </div>
          <Key main href={href("stop")}>{t("Stop here")}</Key>
        </>
      }
    >
      <Trouble saving={saving} />
      {site && isBlocked(site) ? (
        <div class="told" role="alert"><p>{t("Nobody enters before {when}.", { when: sayMoment(site.blocked_until!) })} {site.blocked_why}</p></div>
      ) : null}
      {within ? (
        <div class="told">
          <p>{t("You seem to be in {site}.", { site: within.name })}</p>
          <div class="keys two">
            <Key onTap={() => belongsTo(within.id).then(buzz)}>{t("Yes, I am")}</Key>
            <Key href={href("place")}>{t("Another place")}</Key>
          </div>
        </div>
      ) : null}
      <p>
        {walking.paused
          ? t("Resting. The track goes on when you do.")
          : lack === "denied"
            ? t("This phone may not tell where it is: there is no track. Allow it in the phone's settings, or say afterwards which rows you walked.")
            : here === undefined
              ? t("Waiting for the place …")
              : fixes.length === 0
                ? t("The place is known within {far}.", { far: distance(2 * here.error_m) })
                : t("{far} walked since {time}.", { far: distance(metresWalked(fixes)), time: sayTime(walking.started) })}{" "}
        {counted}
      </p>
      {missing.number > 0 ? (
        <p><strong>{plural("The track has {n} gap.", "The track has {n} gaps.", missing.number)}</strong>{" "}
          {t("It stops while the phone is locked or shows another app. Say at the end which rows you walked meanwhile.")}</p>
      ) : null}
      <SiteMap sites={site ? [site] : []} track={lines(fixes, 2)} stops={stops} here={here} aerial={aerial} label={t("Map of the walk")} />
      {staysOn === undefined ? null : staysOn ? (
        <p class="faint">{t("The screen stays on while you walk, because a locked phone does not tell where it is.")}</p>
      ) : (
        <p>{t("This phone cannot keep its screen on: the track stops when it locks.")}</p>
      )}
      <div class="keys two">
        {walking.place && stops.length === 0 ? <Key href={href("place")}>{t("What place is this?")}</Key> : null}
        {leaving ? (
          <Key onTap={() => saving.run(async () => { await giveUp(); go("today", {}, true); })}>
            {stops.length ? t("Yes, drop the track; keep the stops") : t("Yes, drop it")}
          </Key>
        ) : (
          <Key onTap={() => setLeaving(true)}>{t("This was no walk")}</Key>
        )}
      </div>
    </Page>
  );
}

