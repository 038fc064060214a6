/** Where a walk without a boundary is: a known site, a section description, a tap on the map; or simply here. */
import type { ScreenProps } from "../router";
import { go, href } from "../router";
import { Key, OneOf, buzz } from "../shell/keys";
import { Page, home } from "../shell/page";
import { Trouble, useSaving } from "../shell/saving";
import type { SiteBody } from "../store";
import { distance, t } from "../words";
import { toSite } from "./ground";
import { SiteMap } from "./map";
import { useHere } from "./place";
import { useSites } from "./taken";
import { belongsTo, change, useStops, useWalking } from "./walking";

export const grounds = (): { value: SiteBody["ground"]; text: string }[] => [
  { value: "field", text: t("Field") },
  { value: "ditch", text: t("Ditch") },
  { value: "roadside", text: t("Roadside") },
  { value: "conservation", text: t("Conservation planting") },
  { value: "feedlot", text: t("Feedlot") },
  { value: "pasture", text: t("Pasture") },
  { value: "pivot_corner", text: t("Pivot corner") },
  { value: "other", text: t("Something else") },
];

export function Screen(_: ScreenProps) {
  const walking = useWalking();
  const sites = useSites();
  const stops = useStops(walking?.id);
  const { here } = useHere();
  const saving = useSaving();
  if (walking === null) return <Page title={t("No walk is under way")} back={home}><p>{t("A place is told of once a walk has been started.")}</p></Page>;
  if (!walking || !sites || !stops) return null;
  const place = walking.place;
  const set = (with_: Partial<SiteBody>) => place && saving.run(() => change({ place: { ...place, ...with_ } }));
  const near = here
    ? sites.map((site) => ({ site, far: toSite(here.at, site) ?? Infinity })).sort((a, b) => a.far - b.far)
    : sites.map((site) => ({ site, far: Infinity }));
  return (
    <Page title={t("What place is this?")} thumb={<Key main href={href("walk")}>{t("Good")}</Key>}>
      <Trouble saving={saving} />
      {stops.length === 0 ? (
        <>
          <h2>{t("One that the office knows")}</h2>
          <div class="keys">
            {near.slice(0, 6).map(({ site, far }) => (
              <Key key={site.id} onTap={() => saving.run(async () => { await belongsTo(site.id); buzz(); go("walk", {}, true); })}>
                {site.name}{Number.isFinite(far) ? <span class="faint">{far === 0 ? t("you are in it") : t("{far} away", { far: distance(far) })}</span> : null}
              </Key>
            ))}
          </div>
        </>
      ) : null}
      {place ? (
        <>
          <h2>{t("Or a new one")}</h2>
          <label>{t("What do people call it?")}
            <input value={place.name} maxLength={120} onChange={(event) => set({ name: event.currentTarget.value.trim() })} />
          </label>
          <OneOf legend={t("What is it?")} options={grounds()} value={place.ground} onPick={(ground) => set({ ground })} />
          <label>{t("Section description, if you have it (NE 1/4 of section 12 …)")}
            <input value={place.legal ?? ""} maxLength={300}
              onChange={(event) => {
                const legal = event.currentTarget.value.trim();
                const { legal: _old, ...rest } = place;
                void saving.run(() => change({ place: legal ? { ...rest, legal } : rest }));
              }} />
          </label>
          <p>{here ? t("It is where you stand, unless you tap another place on the map.") : t("The phone does not know where it is: tap the place on the map, or describe it.")}</p>
          <SiteMap sites={sites} here={here} mark={place.point} label={t("Map of the known sites")} onTap={(at) => set({ point: [Number(at[0].toFixed(6)), Number(at[1].toFixed(6))] })} />
        </>
      ) : null}
    </Page>
  );
}
