/** What the worker does when a browser wakes it: it sends, and takes nothing; nobody is looking. */
import { pushEntries } from "./entries";
import { pushPictures } from "./pictures";
import { TAG, once } from "./run";

export { TAG };

/** Throws where nobody answered: the browser then wakes it again later. */
export async function sendWhatWaits(): Promise<void> {
  if ((await once([pushEntries, pushPictures])) === "unreachable") throw new Error("no answer yet");
}
