/** Voice notes: said while something is under way, entries of the record as soon as it is kept. */
import type { SoundBody } from "./bodies";
import { type Entry, type Picture, type Voice, open } from "./db";
import { readDraft } from "./drafts";
import { keep, make } from "./entries";
import { changed } from "./live";
import { picture } from "./originals";

/** Until what is being said is on the disk. */
let speaking: Promise<unknown> = Promise.resolve();
export const until = (saved: Promise<unknown>): void => void (speaking = saved.catch(() => undefined));

export const voicesOf = async (of: string): Promise<Voice[]> => (await open()).getAllFromIndex("voices", "of", of);

/** Written again and again while somebody speaks: a phone that dies takes the last seconds with it, not all of it. */
export async function keepVoice(voice: Voice): Promise<void> {
  await (await open()).put("voices", voice);
  changed("voices");
}

export async function dropVoices(voices: Voice[]): Promise<void> {
  const db = await open();
  for (const { id } of voices) await db.delete("voices", id);
  changed("voices");
}

/** The entries of what was said for `under`, which has become `entry`; to be kept with it in one step. */
export async function saidFor(under: string, entry: Entry): Promise<{ entries: Entry[]; pictures: Picture[]; said: Voice[] }> {
  await speaking;
  const said = (await voicesOf(under)).filter(({ blob }) => blob.size > 0);
  return { ...(await asEntries(said, () => entry)), said };
}

async function asEntries(said: Voice[], of: (voice: Voice) => Entry | undefined): Promise<{ entries: Entry[]; pictures: Picture[] }> {
  const pictures = await Promise.all(said.map(({ blob }) => picture(blob)));
  const entries = said.map((voice, i) => {
    const { sha256, size } = pictures[i]!;
    const entry = of(voice);
    const media_type = voice.blob.type.split(";")[0] as SoundBody["media_type"];
    const body: SoundBody = { sha256, media_type, size_bytes: size, seconds: voice.seconds, ...(entry === undefined ? {} : { of: entry.id }) };
    return make("sound", body, { site: entry?.site });
  });
  return { entries, pictures };
}

/** At the start: what was said for something that has been kept or dropped meanwhile goes its way too. */
export async function sendStrays(): Promise<void> {
  const db = await open();
  const under = new Set(await Promise.all(["stop", "walk"].map(async (key) => (await readDraft<{ id: string }>(key))?.id)));
  const strays = (await db.getAll("voices")).filter(({ of, blob }) => !under.has(of) && blob.size > 0);
  if (strays.length === 0) return;
  const known = new Map(await Promise.all(strays.map(async ({ of }) => [of, (await db.get("entries", of))?.entry] as const)));
  const { entries, pictures } = await asEntries(strays, ({ of }) => known.get(of));
  await keep(entries, { pictures, said: strays });
}
