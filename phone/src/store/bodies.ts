/**
 * What an entry can say, by kind: those kinds that a phone makes. The same names, SI units and rules as
 * `tepal.ledger._bodies`; the server checks them again. What was not seen is left out, never null.
 */

export type Point = [lon: number, lat: number];
export type SizeClass = "seedling" | "under_10_cm" | "10_30_cm" | "30_100_cm" | "over_100_cm" | "unknown";
export type Stage = "cotyledon" | "seedling_2-4_leaf" | "vegetative" | "reproductive" | "mature_seed" | "unknown";
export type Look = string | number | (string | number)[];

interface Any {
  on?: string;
  words?: string;
}

export interface SiteBody extends Any {
  name: string;
  ground: "field" | "ditch" | "roadside" | "drainage" | "conservation" | "feedlot" | "pasture" | "pivot_corner" | "other";
  point?: Point;
  legal?: string;
  boundary?: { type: "Polygon" | "MultiPolygon"; coordinates: unknown };
}

export interface ReportBody extends Any {
  who?: string;
  how: "call" | "text" | "visit" | "letter";
  words: string;
  place?: { words?: string; point?: Point; error_m?: number };
  photos?: string[];
  answer_by?: string;
}

export interface WalkBody extends Any {
  who?: string;
  started?: string;
  ended?: string;
  track?: { type: "LineString"; coordinates: Point[] } | { type: "MultiLineString"; coordinates: Point[][] };
  rows_marked?: string;
  minutes?: number;
  found?: number;
  looked_for?: string[];
}

export interface Tally {
  taxon: string;
  size?: SizeClass;
  count: number;
  tallest_cm?: number;
}

export interface StopBody extends Any {
  at?: Point;
  error_m?: number;
  walk?: string;
  area_m2?: number;
  row_m?: number;
  row_cm?: number;
  counts: Tally[];
  by_sight?: boolean;
}

export interface PlantBody extends Any {
  at?: Point;
  error_m?: number;
  stop?: string;
  stage: Stage;
  looks: Record<string, Look>;
  height_cm?: number;
  flowering?: boolean;
  seed_dark?: boolean;
  photos?: string[];
  count?: number;
  seen_by?: "eye" | "photo";
}

export interface PhotoBody extends Any {
  sha256: string;
  media_type: "image/jpeg" | "image/png" | "image/heic";
  size_bytes: number;
  taken_at?: string;
  at?: Point;
  of?: string;
}

export interface SoundBody extends Any {
  sha256: string;
  media_type: "audio/webm" | "audio/mp4" | "audio/ogg";
  size_bytes: number;
  seconds?: number;
  of?: string;
}

export interface DoneBody extends Any {
  what: "sprayed" | "pulled" | "cut" | "bagged" | "mowed" | "cultivated" | "harvested" | "other";
  ingredients?: { name: string; rate?: number; unit?: string; group?: string }[];
  volume_l_ha?: number;
  nozzle?: string;
  adjuvant?: string;
  tallest_cm?: number;
  weather?: string;
  cut_height_cm?: number;
  share?: number;
  plants?: number;
  hours?: number;
  people?: number;
  re_entry_until?: string;
  pre_harvest_until?: string;
  survivors?: boolean;
}

export interface SampleBody extends Any {
  step: "made" | "sent" | "received" | "result";
  what?: "leaf" | "seed" | "voucher" | "plant";
  of?: string;
  laboratory?: string;
  test?: "species" | "resistance";
}

export interface NoteBody extends Any {
  words: string;
}

export interface WithdrawBody extends Any {
  reason?: string;
}

export interface Bodies {
  site: SiteBody;
  report: ReportBody;
  walk: WalkBody;
  stop: StopBody;
  plant: PlantBody;
  photo: PhotoBody;
  sound: SoundBody;
  done: DoneBody;
  sample: SampleBody;
  note: NoteBody;
  withdraw: WithdrawBody;
}

export type Kind = keyof Bodies;
