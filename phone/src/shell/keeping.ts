/** Whether the system will keep what is on the phone, and whether it did. */
import { changed, day, listen, open } from "../store";

const COOKIE = "tepal_kept";

/** Asked once something is to be kept; the answer is shown in the settings. */
export async function askToKeep(): Promise<boolean> {
  if (!navigator.storage?.persist) return false;
  return (await navigator.storage.persisted()) || navigator.storage.persist();
}

export interface Room {
  promised: boolean;
  used_mb: number;
  free_mb: number;
}

export async function room(): Promise<Room | undefined> {
  if (!navigator.storage?.estimate) return undefined;
  const { usage = 0, quota = 0 } = await navigator.storage.estimate();
  return { promised: await navigator.storage.persisted(), used_mb: usage / 1e6, free_mb: (quota - usage) / 1e6 };
}

// A system that is short of space takes the whole store, but leaves cookies: this one tells how much was in it.
const written = (): [day: string, unsent: number] | undefined => {
  const found = /(?:^|; )tepal_kept=(\d{4}-\d\d-\d\d)\.(\d+)/.exec(document.cookie);
  return found ? [found[1]!, Number(found[2])] : undefined;
};

function write(unsent: number): void {
  const secure = location.protocol === "https:" ? "; Secure" : "";
  document.cookie = `${COOKIE}=${day()}.${unsent}; Max-Age=31536000; SameSite=Strict; Path=${new URL("./", document.baseURI).pathname}${secure}`;
}

interface Emptied {
  day: string;
  unsent: number;
}

/** At the start, before anything is written: was something here that is gone? Then keeps the mark up to date. */
export async function watchTheStore(): Promise<void> {
  const db = await open();
  const mark = written();
  if ((await db.get("settings", "born")) === undefined) {
    await db.put("settings", { key: "born", value: day() });
    if (mark !== undefined) await db.put("settings", { key: "emptied", value: { day: mark[0], unsent: mark[1] } });
  }
  const note = async () => {
    const [outbox, photos, voices] = await Promise.all([db.getAll("outbox"), db.count("photos"), db.count("voices")]);
    write(outbox.filter((one) => one.state !== "aside").length + photos + voices);
  };
  listen(["outbox", "photos", "voices"], () => void note());
  await note();
}

/** What was lost when the system emptied the store, until a person has read it. */
export async function wasEmptied(): Promise<Emptied | undefined> {
  return (await (await open()).get("settings", "emptied"))?.value as Emptied | undefined;
}

export async function dismissEmptied(): Promise<void> {
  await (await open()).delete("settings", "emptied");
  changed("settings");
}
