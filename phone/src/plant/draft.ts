/** A plant that is being looked at, as it is written down at every tap; and the entries that it becomes. */
import { useUnderWay } from "../acts/under_way";
import type { Tap, WhichLeaf } from "../leaf/ratio";
import type { Saving } from "../shell/saving";
import {
  amend, dropDraft, keep, make, newId, open, readDraft, settings, type Entry, type PhotoBody, type Picture, type PlantBody,
  type Point, type Stage,
} from "../store";
import { readWalking, siteEntry } from "../walk/walking";
import { NOTHING, type Answered } from "./session";

export interface TakenPhoto {
  sha256: string;
  type: PhotoBody["media_type"];
  size: number;
  taken_at: string;
}

/** A leaf that is being measured on a photo; `leaf` is null until it was said which one it is. */
export interface Measuring {
  photo: string;
  leaf: WhichLeaf | null;
  points: Tap[];
}

export interface Draft {
  id: string;
  /** Empty until it was said. */
  site: string;
  stop?: string;
  at?: Point;
  error_m?: number;
  answered: Answered;
  /** The answer that is being changed. */
  editing: string | null;
  typed: string;
  /** Inches or centimetres, where a length is typed. */
  inches: boolean;
  photos: TakenPhoto[];
  measuring: Measuring | null;
  /** What a measured photo says, in words, by photo. */
  measured: Record<string, string>;
  count: number;
  /** The plant as it was kept before, where its answers are being corrected. */
  older?: Entry<"plant">;
}

const KEY = "plant";
export const photoKey = (sha: string): string => `photo:${sha}`;

type Given = Readonly<Record<string, string>>;

const fresh = (site: string): Draft => ({
  id: newId(), site, answered: NOTHING, editing: null, typed: "", inches: settings().units === "us", photos: [], measuring: null,
  measured: {}, count: 1,
});

/** The plant under way; a kept one opened again (`amends`); else a new one at this site or stop. */
async function begin({ site, stop, amends }: Given): Promise<Draft> {
  const under = await readDraft<Draft>(KEY);
  const begun = under !== undefined && (under.answered.stage !== null || under.photos.length > 0);
  if (begun && (amends === undefined || under.older?.id === amends)) return under;
  const known = amends === undefined ? undefined : await (await open()).get("entries", amends);
  if (known?.entry.kind === "plant") return corrected(known.entry as Entry<"plant">);
  return { ...fresh(site ?? (await readWalking())?.site ?? ""), ...(stop === undefined ? {} : { stop }) };
}

function corrected(older: Entry<"plant">): Draft {
  const { stage, looks, count, at, error_m, stop } = older.body;
  return {
    ...fresh(older.site ?? ""),
    ...(at === undefined ? {} : { at }),
    // Nothing that the receiver says now moves a plant that was seen before.
    error_m: error_m ?? 0,
    ...(stop === undefined ? {} : { stop }),
    answered: { ...NOTHING, stage, looks: Object.entries(looks), stopped: true },
    count: count ?? 1,
    older,
  };
}

/** The draft, and how to change it: shown at once, on the disk before anything else is done with it. */
export const usePlant = (params: Given, saving: Saving) => useUnderWay<Draft>(KEY, () => begin(params), saving);

/** Leaves nothing of it behind. */
export async function drop(draft: Draft): Promise<void> {
  for (const { sha256 } of draft.photos) await dropDraft(photoKey(sha256));
  await dropDraft(KEY);
}

function bodyOf(draft: Draft): PlantBody {
  const { answered, photos, count, older } = draft;
  const words = [older?.body.words, ...Object.values(draft.measured)].filter((text) => text !== undefined).join(" ");
  const shas = [...(older?.body.photos ?? []), ...photos.map(({ sha256 }) => sha256)];
  return {
    ...older?.body,
    ...(draft.at === undefined ? {} : { at: draft.at }),
    ...(draft.at !== undefined && draft.error_m ? { error_m: Math.round(draft.error_m * 10) / 10 } : {}),
    ...(draft.stop === undefined ? {} : { stop: draft.stop }),
    stage: (answered.stage ?? "unknown") as Stage,
    looks: Object.fromEntries(answered.looks),
    ...(shas.length ? { photos: shas } : {}),
    count,
    ...(words ? { words } : {}),
  };
}

/**
 * Keeps the plant and its photos as entries, in one step; gives back the plant. A corrected one amends what was kept before; one
 * that the office refused is sent as a new one, and the refused one is put aside.
 */
export async function finish(draft: Draft): Promise<Entry<"plant">> {
  const { older, site } = draft;
  const waiting = older && (await (await open()).getFromIndex("outbox", "id", older.id));
  const refused = waiting?.state === "refused";
  const body = bodyOf(draft);
  const plant = older && !refused ? amend(older, body) : make("plant", body, { site, id: draft.id });
  const photos = draft.photos.map(({ sha256, type, size, taken_at }) =>
    make("photo", {
      sha256, media_type: type, size_bytes: size, taken_at, of: plant.id, ...(draft.at === undefined ? {} : { at: draft.at }),
    }, { site }),
  );
  const pictures: Picture[] = [];
  for (const { sha256 } of draft.photos) {
    const kept = await readDraft<Picture>(photoKey(sha256));
    if (kept) pictures.push(kept);
  }
  const walking = await readWalking();
  const before = walking?.site === site ? await siteEntry(walking) : [];
  await keep([...before, plant, ...photos], {
    pictures,
    drop: [KEY, ...draft.photos.map(({ sha256 }) => photoKey(sha256))],
    ...(refused && older ? { aside: [older.id] } : {}),
  });
  return plant;
}
