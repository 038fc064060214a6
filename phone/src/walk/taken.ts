/** What was taken along from the office, and the places that this phone itself has made since. */
import { type Entry, open, standing, useLive } from "../store";
import type { Site, TakenAlong } from "../sync";

export async function taken(): Promise<TakenAlong | undefined> {
  return (await (await open()).get("today", "today"))?.value as TakenAlong | undefined;
}

/** Sites of the office, then new places of this phone that the office does not list yet. */
export async function sites(): Promise<Site[]> {
  const office = (await taken())?.sites ?? [];
  const known = new Set(office.map((site) => site.id));
  const all = standing(await (await open()).getAll("entries"));
  const own = all
    .filter(({ here, entry }) => here && entry.kind === "site" && entry.site !== undefined && !known.has(entry.site))
    .map(({ entry }) => {
      const { name, ground, point, legal, boundary } = (entry as Entry<"site">).body;
      return {
        id: entry.site!, name, kind: ground, point: point ?? null, place: legal ?? null,
        boundary: (boundary as Site["boundary"]) ?? null,
      };
    });
  return [...office, ...own];
}

export const useTaken = (): TakenAlong | null | undefined => useLive(async () => (await taken()) ?? null, ["today"]);
export const useSites = (): Site[] | undefined => useLive(sites, ["today", "entries"]);

export function useAerial(site: Site | undefined): { blob: Blob; bounds: [number, number, number, number] } | undefined {
  return useLive(async () => {
    if (!site?.aerial) return undefined;
    const blob = (await (await open()).get("today", `aerial:${site.aerial.url}`))?.value as Blob | undefined;
    return blob && { blob, bounds: site.aerial.bounds };
  }, ["today"], [site?.aerial?.url]);
}

/** Whether nobody may enter now, by the office's word. */
export const isBlocked = (site: Site, now = Date.now()): boolean =>
  site.blocked_until != null && Date.parse(site.blocked_until) > now;
