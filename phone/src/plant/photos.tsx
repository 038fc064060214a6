/** Photos of a plant: the original is kept as it is, a small picture of it for showing. */
import { useEffect, useState } from "preact/hooks";
import { moment, open, picture, readDraft, saveDraft, type PhotoBody, type Picture } from "../store";
import { t } from "../words";
import { photoKey, type TakenPhoto } from "./draft";

const TYPES: readonly string[] = ["image/jpeg", "image/png", "image/heic"];
/** What the office takes at most. */
const MOST_BYTES = 25_000_000;
const SMALL_PX = 240;

/** Why a picture cannot be kept; null where it can. */
export function refusal(file: File): string | null {
  if (!TYPES.includes(file.type)) return t("This kind of picture cannot be kept: it must be JPEG, PNG or HEIC. Take the photo with the camera.");
  if (file.size > MOST_BYTES) return t("This picture is larger than 25 MB. Take it again with a smaller size set in the camera.");
  return null;
}

/** The picture on the phone's disk; rejects where there is no room for it. */
export async function takeIn(file: File): Promise<TakenPhoto> {
  const whole = await picture(file);
  await saveDraft(photoKey(whole.sha256), whole);
  await small(whole).catch((problem: unknown) => console.warn("no small picture", problem));
  return { sha256: whole.sha256, type: file.type as PhotoBody["media_type"], size: file.size, taken_at: moment() };
}

/** The small picture, kept when the original has gone to the office. */
async function small({ sha256, blob }: Picture): Promise<void> {
  const bitmap = await createImageBitmap(blob);
  const scale = Math.min(1, SMALL_PX / Math.max(bitmap.width, bitmap.height));
  const canvas = new OffscreenCanvas(Math.round(bitmap.width * scale), Math.round(bitmap.height * scale));
  canvas.getContext("2d")?.drawImage(bitmap, 0, 0, canvas.width, canvas.height);
  bitmap.close();
  const value = await canvas.convertToBlob({ type: "image/jpeg", quality: 0.7 });
  await (await open()).put("today", { key: `small:${sha256}`, value, at: moment() });
}

/** The address of a picture on this phone; undefined while it is being read or where it is not here. */
export function usePicture(sha: string, size: "small" | "whole"): string | undefined {
  const [url, setUrl] = useState<string>();
  useEffect(() => {
    let made: string | undefined;
    let here = true;
    const find = async (): Promise<Blob | undefined> => {
      if (size === "small") return (await (await open()).get("today", `small:${sha}`))?.value as Blob | undefined;
      return (await readDraft<Picture>(photoKey(sha)))?.blob ?? (await (await open()).get("photos", sha))?.blob;
    };
    find().then((blob) => {
      if (here && blob) setUrl((made = URL.createObjectURL(blob)));
    }, console.error);
    return () => {
      here = false;
      if (made) URL.revokeObjectURL(made);
    };
  }, [sha, size]);
  return url;
}

/** A key that opens the camera. */
export function Camera({ text, main, onTaken }: { text: string; main?: boolean; onTaken: (file: File) => unknown }) {
  return (
    <label class={main ? "key main camera" : "key camera"}>
      {text}
      <input type="file" accept="image/jpeg,image/png,image/heic" capture="environment" class="unseen"
        onChange={({ currentTarget }) => {
          const file = currentTarget.files?.[0];
          currentTarget.value = "";
          if (file) onTaken(file);
        }} />
    </label>
  );
}

export function Small({ sha, at }: { sha: string; at: number }) {
  const url = usePicture(sha, "small");
  return url ? <img src={url} alt={t("Photo {n}", { n: at })} /> : <span>{t("Photo {n}", { n: at })}</span>;
}
