/** A walk under way. It is a draft until it ends; its fixes go to the disk as they come. */
import { useEffect } from "preact/hooks";
import {
  type Entry, type Fix, type SiteBody, type StopBody, type WalkBody, amend, changed, clockError, dropDraft, dropVoices, keep, make, moment, newId,
  open, readDraft, saidFor, saveDraft, standing, useDraft, useLive, voicesOf,
} from "../store";
import { t } from "../words";
import { follow, lastHere, letSleep, stayOn } from "./place";
import { GAP_S, trackOf } from "./track";

export interface Walking {
  id: string;
  /** A known site, or a new one that `place` tells of. */
  site: string;
  place?: SiteBody;
  started: string;
  paused: boolean;
  /** Milliseconds paused so far, and since when, if paused. */
  rested: number;
  paused_at?: number;
  rows?: string;
}

export const KEY = "walk";

export const useWalking = (): Walking | null | undefined => useDraft<Walking>(KEY);
export const readWalking = (): Promise<Walking | undefined> => readDraft<Walking>(KEY);

export async function start(site?: string): Promise<Walking> {
  const under = await readWalking();
  if (under !== undefined) return under;
  const walking: Walking = {
    id: newId(),
    site: site ?? newSite(),
    started: moment(),
    paused: false,
    rested: 0,
    ...(site === undefined ? { place: { name: "", ground: "field" } } : {}),
  };
  await saveDraft(KEY, walking);
  return walking;
}

export const newSite = (): string => `place-${newId().replaceAll("-", "").slice(-12)}`;

export async function change(with_: Partial<Walking>): Promise<void> {
  const walking = await readWalking();
  if (walking !== undefined) await saveDraft(KEY, { ...walking, ...with_ });
}

/** The walk belongs to a known site after all. Only while nothing has been written of the new place. */
export async function belongsTo(site: string): Promise<void> {
  const walking = await readWalking();
  if (walking === undefined) return;
  const { place: _, ...rest } = walking;
  await saveDraft(KEY, { ...rest, site });
}

export async function pause(): Promise<void> {
  await change({ paused: true, paused_at: Date.now() });
  await letSleep();
}

export async function resume(): Promise<void> {
  const walking = await readWalking();
  if (walking?.paused_at === undefined) return;
  const { paused_at, ...rest } = walking;
  await saveDraft(KEY, { ...rest, paused: false, rested: walking.rested + Date.now() - paused_at });
  resumed = true;
}

let resumed = false;
let last: { walk: string; t: number } | undefined;

async function record(walking: Walking): Promise<void> {
  const here = lastHere();
  if (here === undefined || walking.paused) return;
  if (last?.walk === walking.id && last.t >= here.t) return;
  const gap = resumed || last?.walk !== walking.id || here.t - last.t > GAP_S * 1000;
  resumed = false;
  last = { walk: walking.id, t: here.t };
  const fix: Fix = { walk: walking.id, t: here.t, at: here.at, error_m: here.error_m, gap };
  await (await open()).add("track", fix);
  changed("track");
}

/** While a walk is under way every screen follows it: also a stop, a plant, the list. */
export function useRecorder(): void {
  const walking = useWalking();
  const on = walking != null && !walking.paused;
  useEffect(() => {
    if (!on) return;
    const stop = follow(() => void record(walking).catch((problem: unknown) => console.error(problem)));
    const awake = () => document.visibilityState === "visible" && void stayOn();
    awake();
    document.addEventListener("visibilitychange", awake);
    return () => {
      stop();
      document.removeEventListener("visibilitychange", awake);
    };
  }, [walking?.id, on]);
}

export async function fixesOf(walk: string): Promise<Fix[]> {
  return (await open()).getAllFromIndex("track", "walk", walk);
}

export const useFixes = (walk: string | undefined): Fix[] | undefined =>
  useLive(async () => (walk === undefined ? [] : fixesOf(walk)), ["track"], [walk]);

export async function stopsOf(walk: string): Promise<Entry<"stop">[]> {
  const all = await (await open()).getAll("entries");
  return standing(all)
    .map((known) => known.entry as Entry<"stop">)
    .filter((entry) => entry.kind === "stop" && (entry.body as StopBody).walk === walk)
    .sort((a, b) => (a.made_at < b.made_at ? -1 : 1));
}

export const useStops = (walk: string | undefined): Entry<"stop">[] | undefined =>
  useLive(async () => (walk === undefined ? [] : stopsOf(walk)), ["entries"], [walk]);

/** Ends it: a `walk` entry with the track (and the new site's entry before it), all in one step. */
export async function finish(found: number | undefined, words?: string): Promise<Entry<"walk"> | undefined> {
  const walking = await readWalking();
  if (walking === undefined) return undefined;
  const fixes = await fixesOf(walking.id);
  const ended = new Date();
  const resting = walking.rested + (walking.paused_at === undefined ? 0 : ended.getTime() - walking.paused_at);
  const body: WalkBody = {
    // Both by the office's clock, if the phone's is known to be wrong: the draft has the phone's.
    started: moment(new Date(Date.parse(walking.started) - clockError() * 1000)),
    ended: moment(new Date(ended.getTime() - clockError() * 1000)),
    minutes: Math.max(0, Math.round((ended.getTime() - Date.parse(walking.started) - resting) / 6_000) / 10),
    looked_for: ["AMAPA", "AMATU"],
  };
  const track = trackOf(fixes);
  if (track !== undefined) body.track = track;
  if (found !== undefined) body.found = found;
  if (walking.rows) body.rows_marked = walking.rows;
  if (words) body.words = words;
  const entry = make("walk", body, { site: walking.site, id: walking.id });
  // The site first: the office refuses a walk on ground that it has never heard of.
  const { entries, ...beside } = await saidFor(walking.id, entry);
  await keep([...(await siteEntry(walking)), entry, ...entries], { ...beside, drop: [KEY] });
  await letSleep();
  return entry;
}

/** The entry of a new place: at its first stop, and again as an amendment where it has been named since. */
export async function siteEntry(walking: Walking): Promise<Entry<"site">[]> {
  if (walking.place === undefined) return [];
  const point = walking.place.point ?? lastHere()?.at ?? (await fixesOf(walking.id))[0]?.at;
  const name = walking.place.name || `${t("New place")}, ${walking.started.slice(0, 16).replace("T", " ")}`;
  const body: SiteBody = { ...walking.place, name, ...(point === undefined ? {} : { point }) };
  const known = standing(await (await open()).getAllFromIndex("entries", "site", walking.site));
  const older = known.find((one) => one.entry.kind === "site")?.entry as Entry<"site"> | undefined;
  if (older === undefined) return [make("site", body, { site: walking.site })];
  // Where the first fix put it stays, unless a person has said better.
  const same = { ...body, point: walking.place.point ?? older.body.point };
  const changedIn = (["name", "ground", "legal", "point"] as const).some((key) => JSON.stringify(same[key]) !== JSON.stringify(older.body[key]));
  return changedIn ? [amend(older, { ...older.body, ...(same as SiteBody) })] : [];
}

/** A walk that was begun by mistake: its fixes go with it; stops that were made stay. */
export async function giveUp(): Promise<void> {
  const walking = await readWalking();
  if (walking === undefined) return;
  const db = await open();
  for (const n of await db.getAllKeysFromIndex("track", "walk", walking.id)) await db.delete("track", n);
  await dropVoices(await voicesOf(walking.id));
  await dropDraft(KEY);
  await letSleep();
  changed("track");
}
