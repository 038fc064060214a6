// The compiled tables as they come from `tepal plant --compile`: docs/compiled-tables.md tells every key.

export interface Character {
  seconds: number;
  tool: "none" | "ruler" | "hand_lens" | "pulled_plant";
  look: boolean;
  states?: string[];
  misread?: number;
  unit?: string;
  reading_cv?: number;
  most?: number | null;
  overlap?: string;
  binned_from?: string;
  /** Answers (character → states) of plants that have nothing there to look at. */
  absent_where?: Record<string, string[]>;
}

/** `[c, share of each state…]` or `[mean, sd, q]`, by code. */
export type Rows = Record<string, number[]>;

export interface Stage {
  temper: number;
  from: Record<string, string>;
  asked: string[];
  priors: Record<string, number[]>;
  alike: number;
  inseparable: string[][];
  loss: number[][];
}

export interface Tables {
  format: number;
  tepal: string;
  group: string;
  tables: string;
  names: string[];
  taxa: number;
  crosses: [number, number][];
  hunted: number[];
  regions: string[];
  settings: Record<
    | "base_mass"
    | "misread_scale"
    | "freedom"
    | "leaf_correlation"
    | "overlap_correlation"
    | "borrowed_weight"
    | "stage_misfit"
    | "drawn_share"
    | "asking_seconds"
    | "reliability"
    | "nodes",
    number
  >;
  weights: { mean: number[]; pigweed: boolean[]; rates: [number, number][] } & Record<
    "region_mix" | "pollen_nearby" | "cross_doubt" | "other_weight",
    number
  >;
  costs: Record<"sample" | "second" | "doubt", number>;
  characters: Record<string, Character>;
  rows: Record<string, Record<string, Rows | string>>;
  stages: Record<string, Stage>;
}

export const FORMAT = 2;
export const UNKNOWN = "unknown";
export const CANNOT_TELL = "cannot_tell";

export type Answer = string | number;
/** Character → what was seen: a state, a number in the table's unit, several of either, or `cannot_tell`. */
export type Looks = Readonly<Record<string, Answer | readonly Answer[]>>;

/** A number by name; null where the tables tell nothing of that name. */
export type Told = (number | null)[];

export const sum = (values: readonly number[]): number => values.reduce((total, value) => total + value, 0);

export const stageNames = (tables: Tables): string[] => Object.keys(tables.stages);

export function character(tables: Tables, name: string): Character {
  const found = tables.characters[name];
  if (!found) throw new RangeError(`The tables have no character ${name}.`);
  return found;
}

export function stageOf(tables: Tables, name: string): Stage {
  const found = tables.stages[name];
  if (!found) throw new RangeError(`The tables have no stage ${name}.`);
  return found;
}

/** The rows that count for a character at a stage, its own or borrowed; null where there are none. */
export function rowsAt(tables: Tables, name: string, stage: string): Rows | null {
  const origin = stageOf(tables, stage).from[name];
  const byStage = tables.rows[name];
  if (origin === undefined || !byStage) return null;
  const found = byStage[origin];
  const rows = typeof found === "string" ? byStage[found] : found;
  return rows && typeof rows !== "string" ? rows : null;
}

export const isOwn = (tables: Tables, name: string, stage: string): boolean =>
  stageOf(tables, stage).from[name] === stage;

/** Whether a plant with these answers has nothing there to look at, as a male one has no seed head. */
export function isAbsent(tables: Tables, name: string, looks: Looks): boolean {
  return Object.entries(character(tables, name).absent_where ?? {}).some(([other, states]) => {
    const answers = new Set([looks[other] ?? []].flat().filter((answer) => answer !== CANNOT_TELL));
    return answers.size === 1 && states.some((state) => answers.has(state));
  });
}

/** How many of these looks tell of the same thing as `name`. */
export function alike(tables: Tables, name: string, names: readonly string[]): number {
  const group = tables.characters[name]?.overlap;
  return group ? names.filter((other) => tables.characters[other]?.overlap === group).length : 0;
}
