/** Which site is meant: the nearest first, and a way out for a place that the office does not know. */
import { go } from "../router";
import { distance, t } from "../words";
import { toSite } from "../walk/ground";
import { useHere } from "../walk/place";
import { useSites } from "../walk/taken";
import { start } from "../walk/walking";
import { Key } from "./keys";
import { Page, home } from "./page";

export function ChooseSite({ onPick }: { onPick: (site: string) => unknown }) {
  const sites = useSites();
  const { here } = useHere();
  if (sites === undefined) return null;
  const near = sites
    .map((site) => ({ site, far: (here && toSite(here.at, site)) ?? Infinity }))
    .sort((a, b) => a.far - b.far || a.site.name.localeCompare(b.site.name));
  const walk = async () => {
    await start();
    go("walk", {}, true);
  };
  return (
    <Page title={t("Which site?")} back={home} thumb={<Key onTap={walk}>{t("A new place: start walking")}</Key>}>
      <div class="keys">
        {near.map(({ site, far }) => (
          <Key key={site.id} onTap={() => onPick(site.id)}>
            {site.name}
            {Number.isFinite(far) ? <span class="faint">{far === 0 ? t("you are in it") : t("{far} away", { far: distance(far) })}</span> : null}
          </Key>
        ))}
      </div>
    </Page>
  );
}
