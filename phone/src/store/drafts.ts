/** What is under way (a walk, a stop, a plant), written at every tap: a phone that dies takes no tap with it. */
import { open } from "./db";
import { moment } from "./ids";
import { changed, useLive } from "./live";

let writing: Promise<unknown> = Promise.resolve();

/** Resolves once it is on the disk. Writes follow each other, so that the last tap wins. */
export function saveDraft<T>(key: string, value: T): Promise<void> {
  const write = async () => {
    await (await open()).put("drafts", { key, value, at: moment() });
    changed("drafts");
  };
  const done = writing.then(write, write);
  writing = done;
  return done;
}

export async function readDraft<T>(key: string): Promise<T | undefined> {
  return (await (await open()).get("drafts", key))?.value as T | undefined;
}

export async function dropDraft(key: string): Promise<void> {
  await writing.catch(() => undefined);
  await (await open()).delete("drafts", key);
  changed("drafts");
}

/** The draft of that key: undefined while it is being read, null where there is none. */
export function useDraft<T>(key: string): T | null | undefined {
  return useLive(async () => (await readDraft<T>(key)) ?? null, ["drafts"], [key]);
}
