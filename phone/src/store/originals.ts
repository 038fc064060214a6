/** Photos and voice notes are named by the SHA-256 of their bytes, here as in the ledger. */
import type { Picture } from "./db";
import { moment } from "./ids";

export async function sha256(blob: Blob): Promise<string> {
  const digest = await crypto.subtle.digest("SHA-256", await blob.arrayBuffer());
  return Array.from(new Uint8Array(digest), (b) => b.toString(16).padStart(2, "0")).join("");
}

/** An original ready to be kept (`keep([...], { pictures: [picture] })`) beside a `photo` or `sound` entry that names it. */
export async function picture(blob: Blob): Promise<Picture> {
  return {
    sha256: await sha256(blob), blob, type: blob.type, size: blob.size, made_at: moment(), sent: 0, state: "unsent",
  };
}
