/** What the office has for this phone: entries that it may see, and what to take along where there is no signal. */
import type { IDBPTransaction } from "idb";
import { type Known, type Shape, changed, moment, open, saveSettings, setClockError, settings } from "../store";
import { type Page, type TakenAlong, ask, json } from "./office";

interface Cursor {
  after: number;
  view: string;
  mark?: string;
}

export async function takeEntries(): Promise<void> {
  const db = await open();
  let cursor = ((await db.get("today", "cursor"))?.value as Cursor | undefined) ?? { after: 0, view: "" };
  for (let more = true; more; ) {
    const query = new URLSearchParams({ after: String(cursor.after), limit: "500" });
    if (cursor.view) query.set("view", cursor.view);
    if (cursor.mark) query.set("mark", cursor.mark);
    const page = await json<Page>(`entries?${query}`);
    cursor = { after: page.next, view: page.view, ...(page.mark === undefined ? {} : { mark: page.mark }) };
    more = page.more;
    await file(page, cursor);
  }
}

async function file(page: Page, cursor: Cursor): Promise<void> {
  const db = await open();
  const tx = db.transaction(["entries", "outbox", "today"], "readwrite");
  const entries = tx.objectStore("entries");
  if (page.restored) await offerAgain(tx);
  if (page.reset) {
    // What this person may see has changed: drop all of it, except what the office does not hold yet.
    for (const id of await entries.getAllKeys())
      if ((await tx.objectStore("outbox").index("id").getKey(id)) === undefined) await entries.delete(id);
  }
  for (const { seq, ...entry } of page.entries) {
    const have = await entries.get(entry.id);
    const known: Known = { ...have, id: entry.id, entry, here: have?.here ?? false };
    await entries.put(seq === undefined ? known : { ...known, seq });
  }
  await tx.objectStore("today").put({ key: "cursor", value: cursor, at: moment() });
  await tx.done;
  if (page.entries.length > 0 || page.reset) changed("entries");
  if (page.restored) changed("outbox");
}

/**
 * The office's record came back from a copy: what was handed in after that copy was made is nowhere but here. All that
 * this person said is offered again, in the old order; the office knows what it has.
 */
async function offerAgain(tx: IDBPTransaction<Shape, ("entries" | "outbox" | "today")[], "readwrite">): Promise<void> {
  const me = ((await tx.objectStore("today").get("today"))?.value as TakenAlong | undefined)?.person.name;
  const outbox = tx.objectStore("outbox");
  const mine = (await tx.objectStore("entries").getAll()).filter(
    ({ here, entry }) => (here || (me !== undefined && entry.by === me)) && !isForgotten(entry),
  );
  for (const { id, entry } of mine.sort((a, b) => (a.seq ?? Infinity) - (b.seq ?? Infinity) || (a.id < b.id ? -1 : 1)))
    if ((await outbox.index("id").getKey(id)) === undefined) await outbox.add({ id, entry, state: "unsent", tries: 0 });
}

// A tombstone is the office's word, and so is what was left of an entry without a person.
const isForgotten = (entry: { kind: string; forgotten?: unknown }): boolean =>
  entry.kind === "forgotten" || entry.forgotten !== undefined;

export async function takeToday(): Promise<void> {
  const db = await open();
  const asked = Date.now();
  const { language, units } = settings();
  // Until this person has chosen, the office's units are theirs.
  const chosen = (await db.get("settings", "settings")) !== undefined;
  const today = await json<TakenAlong>(`today?${new URLSearchParams({ language, ...(chosen ? { units } : {}) })}`);
  setClockError(((asked + Date.now()) / 2 - Date.parse(today.server_time)) / 1000);
  await db.put("today", { key: "today", value: today, at: moment() });
  changed("today");
  const office = today.sites[0]?.units;
  if (!chosen && office !== undefined && office !== units) await saveSettings({ units: office });
  await takeAerials(today);
}

/** Pictures from the air, for those sites that have one; a phone that is full does without. */
async function takeAerials(today: TakenAlong): Promise<void> {
  const db = await open();
  const wanted = new Map(today.sites.flatMap((site) => (site.aerial ? [[`aerial:${site.aerial.url}`, site.aerial.url]] : [])));
  for (const key of await db.getAllKeys("today"))
    if (key.startsWith("aerial:") && !wanted.has(key)) await db.delete("today", key);
  for (const [key, url] of wanted) {
    if ((await db.getKey("today", key)) !== undefined) continue;
    try {
      const blob = await (await ask(url.replace(/^\//, ""))).blob();
      await db.put("today", { key, value: blob, at: moment() });
      changed("today");
    } catch (problem) {
      console.warn("aerial picture", problem);
    }
  }
}
