/** One entry kept in place of its draft, new or as a correction; with the new place's own entry before it, where there is one. */
import { amend, keep, make, open, type Bodies, type Entry } from "../store";
import { readWalking, siteEntry } from "../walk/walking";

type Act = "done" | "sample" | "report";

interface Given<K extends Act> {
  kind: K;
  body: Bodies[K];
  site: string | undefined;
  id: string;
  older?: Entry<K> | undefined;
  draft: string;
}

/** An entry that the office refused is sent as a new one, and the refused one is put aside. */
export async function keepAct<K extends Act>({ kind, body, site, id, older, draft }: Given<K>): Promise<Entry<K>> {
  const waiting = older && (await (await open()).getFromIndex("outbox", "id", older.id));
  const refused = waiting?.state === "refused";
  const entry = older && !refused ? amend(older, body) : make(kind, body, { site, id });
  const walking = await readWalking();
  const before = walking && walking.site === site ? await siteEntry(walking) : [];
  await keep([...before, entry], { drop: [draft], ...(refused && older ? { aside: [older.id] } : {}) });
  return entry;
}
