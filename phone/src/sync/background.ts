/**
 * Sending while the app is closed: where a browser can (Background Sync; Chromium's can, Safari and Firefox cannot), it
 * wakes the worker when there is signal again, and the worker sends what waits. Elsewhere the app has to be opened.
 */
import { TAG } from "./run";

interface Waking {
  register(tag: string): Promise<void>;
}

async function waking(): Promise<Waking | undefined> {
  if (!("serviceWorker" in navigator)) return undefined;
  return ((await navigator.serviceWorker.getRegistration()) as { sync?: Waking } | undefined)?.sync;
}

export const canBeWoken = async (): Promise<boolean> => (await waking()) !== undefined;

export async function askToBeWoken(): Promise<void> {
  // A browser may say no to one page (a private window, a person's choice): then it is as where there is none.
  await (await waking())?.register(TAG).catch((problem: unknown) => console.warn(problem));
}
