/** What has not been sent as one file, in the ledger's own form: `tepal take` reads the folder that it unpacks to. */
import { day, open } from "../store";
import { taken } from "../walk/taken";
import { zip } from "./zip";

const SUFFIX: Record<string, string> = {
  "image/jpeg": "jpg", "image/png": "png", "image/heic": "heic", "audio/webm": "webm", "audio/mp4": "m4a", "audio/ogg": "ogg",
};
const suffix = (type: string): string => SUFFIX[type.split(";")[0]!] ?? "bin";

export async function unsentAsFile(): Promise<File> {
  const db = await open();
  const by = (await taken())?.person.name ?? "phone";
  const outbox = await db.getAll("outbox");
  const lines = outbox.map(({ entry }) => JSON.stringify({ ...entry, by }) + "\n").join("");
  const files: [string, Blob][] = [["entries.jsonl", new Blob([lines])]];
  for (const one of await db.getAll("photos")) files.push([`${one.type.startsWith("audio/") ? "sounds" : "photos"}/${one.sha256}.${suffix(one.type)}`, one.blob]);
  // Said for something that is not kept yet: no entry names it.
  for (const one of await db.getAll("voices")) files.push([`voice/${one.of}-${one.id.slice(-6)}.${suffix(one.blob.type)}`, one.blob]);
  return new File([await zip(files)], `tepal-unsent-${day()}.zip`, { type: "application/zip" });
}

/** By the phone's own ways of sharing where it has them, else as a download. */
export async function handOver(file: File): Promise<void> {
  const share = { files: [file] };
  if (navigator.canShare?.(share)) {
    try {
      await navigator.share(share);
      return;
    } catch (problem) {
      if (problem instanceof DOMException && problem.name === "AbortError") return;
    }
  }
  const link = document.createElement("a");
  link.href = URL.createObjectURL(file);
  link.download = file.name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}
