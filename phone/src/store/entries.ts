/** Making entries and keeping them: what `keep` has returned from is on the phone's disk and will be sent. */
import type { Bodies, Kind } from "./bodies";
import { type Entry, type Known, type Picture, type Unsent, type Voice, open } from "./db";
import { moment, newId } from "./ids";
import { changed } from "./live";
import { clockError, rightNow } from "./clock";

interface Given {
  site?: string | undefined;
  amends?: string | undefined;
  id?: string | undefined;
}

/** A new entry made now; where the phone's clock is known to be wrong, by the office's. */
export function make<K extends Kind>(kind: K, body: Bodies[K], given: Given = {}): Entry<K> {
  const now = rightNow();
  return {
    id: given.id ?? newId(now.getTime()),
    kind,
    ...(given.site === undefined ? {} : { site: given.site }),
    made_at: moment(now),
    ...(given.amends === undefined ? {} : { amends: given.amends }),
    body,
  };
}

interface Beside {
  pictures?: Picture[];
  /** Voice notes that have become entries. */
  said?: Voice[];
  /** Keys of drafts that have become these entries. */
  drop?: string[];
  /** Ids of refused entries that these stand in for. */
  aside?: string[];
}

/** Entries, with what belongs to them, in one transaction: all of it is on the disk, or none. */
export async function keep(entries: Entry[], beside: Beside = {}): Promise<void> {
  const db = await open();
  const tx = db.transaction(["entries", "outbox", "photos", "voices", "drafts"], "readwrite", { durability: "strict" });
  const work: Promise<unknown>[] = [];
  for (const entry of entries) {
    // An entry that was made by the office's clock has its right day already.
    const known: Known = { id: entry.id, entry, here: true, ...(clockError() === 0 ? {} : { checked: true }) };
    const unsent: Unsent = { id: entry.id, entry, state: "unsent", tries: 0 };
    work.push(tx.objectStore("entries").put(known), tx.objectStore("outbox").put(unsent));
  }
  for (const picture of beside.pictures ?? []) work.push(tx.objectStore("photos").put(picture));
  for (const voice of beside.said ?? []) work.push(tx.objectStore("voices").delete(voice.id));
  for (const key of beside.drop ?? []) work.push(tx.objectStore("drafts").delete(key));
  for (const id of beside.aside ?? []) {
    const refused = await tx.objectStore("outbox").index("id").get(id);
    if (refused !== undefined) work.push(tx.objectStore("outbox").put({ ...refused, state: "aside" }));
    // What the office never took does not stand beside what was sent in its place.
    work.push(tx.objectStore("entries").delete(id));
  }
  await Promise.all([...work, tx.done]);
  changed("entries", "outbox", "photos", "voices", "drafts");
}

/** An amendment: the same kind and site, the whole body anew; the older entry stays as it was. */
export function amend<K extends Kind>(older: Entry<K>, body: Bodies[K]): Entry<K> {
  return make(older.kind, body, { site: older.site, amends: older.id });
}

export function withdraw(older: Entry, reason?: string): Entry<"withdraw"> {
  return make("withdraw", reason === undefined ? {} : { reason }, { site: older.site, amends: older.id });
}

/** What stands: without what was withdrawn, and amended entries only as they were amended (twice: both are shown). */
export function standing(all: Known[]): Known[] {
  const over = new Set<string>();
  // From the newest: a withdrawal that was itself withdrawn takes nothing away.
  for (const { id, entry } of [...all].sort((a, b) => (a.id < b.id ? 1 : -1)))
    if (entry.amends !== undefined && !over.has(id)) over.add(entry.amends);
  return all.filter((known) => known.entry.kind !== "withdraw" && !over.has(known.id));
}

export async function ofSite(site: string): Promise<Known[]> {
  const db = await open();
  return (await db.getAllFromIndex("entries", "site", site)).sort((a, b) => (a.id < b.id ? -1 : 1));
}
