// Which question comes, what an answer does, when it is over. Nothing changes in place; the draft is what is saved.
import { identify, type Call, type Place } from "./engine.ts";
import { CANNOT_TELL, character, stageNames, UNKNOWN, type Answer, type Tables } from "./tables.ts";

export const STAGE = "stage";
/** A look answered by one tap is asked before a measurement, unless it is worth less than this share of it a second. */
const BY_TAP = 0.25;
const MOST_STATES = 9;

export interface Answered {
  /** Null until it was asked; `unknown` where the person could not tell. */
  stage: string | null;
  /** In the order in which they were first given. */
  looks: [string, Answer | Answer[]][];
  /** Tools that the person has not got. */
  missing: string[];
  /** As many looks are asked for even where fewer would be enough. */
  wanted: number;
  stopped: boolean;
}

export const NOTHING: Answered = { stage: null, looks: [], missing: [], wanted: 0, stopped: false };

export interface Question {
  character: string;
  states: string[];
  unit: string;
  tool: string;
}

export function call(tables: Tables, answered: Answered, place: Place): Call {
  return identify(tables, Object.fromEntries(answered.looks), answered.stage ?? UNKNOWN, place);
}

export function questionOf(tables: Tables, name: string): Question {
  if (name === STAGE) return { character: STAGE, states: stageNames(tables), unit: "", tool: "none" };
  const { states = [], unit = "", tool } = character(tables, name);
  return { character: name, states, unit, tool };
}

/** What to ask next; null when it is over. */
export function next(tables: Tables, answered: Answered, now: Call): Question | null {
  if (answered.stopped) return null;
  if (answered.stage === null) return questionOf(tables, STAGE);
  const looks = atHand(tables, answered, now);
  let best = looks[0];
  if (!best || (now.enough && answered.looks.length >= answered.wanted)) return null;
  const worth = ({ gain, seconds }: { gain: number; seconds: number }): number => gain / seconds;
  const tapped = looks.find(({ name }) => {
    const { states } = character(tables, name);
    return states && states.length <= MOST_STATES;
  });
  if (tapped && worth(tapped) >= BY_TAP * worth(best)) best = tapped;
  return questionOf(tables, best.name);
}

const atHand = (tables: Tables, answered: Answered, now: Call): Call["next"] =>
  now.next.filter(({ name }) => !answered.missing.includes(character(tables, name).tool));

/** Whether there is a look left that would tell something. */
export const canGoOn = (tables: Tables, answered: Answered, now: Call): boolean =>
  answered.stage !== null && atHand(tables, answered, now).length > 0;

/** After an answer: a new one at the end, a changed one in its place, as if it had been given so from the start. */
export function answer(answered: Answered, name: string, given: Answer | Answer[]): Answered {
  if (name === STAGE) return { ...answered, stage: given === CANNOT_TELL ? UNKNOWN : String(given) };
  const at = answered.looks.findIndex(([other]) => other === name);
  const looks = at < 0 ? [...answered.looks, [name, given] as [string, Answer | Answer[]]] : answered.looks.with(at, [name, given]);
  return { ...answered, looks };
}

/** After an answer was taken back: the question may come again. */
export function without(answered: Answered, name: string): Answered {
  if (name === STAGE) return { ...answered, stage: null };
  return { ...answered, looks: answered.looks.filter(([other]) => other !== name), stopped: false };
}

/** After the person wants one more look, though it would not change what to do. */
export const further = (answered: Answered): Answered => ({
  ...answered, wanted: answered.looks.length + 1, stopped: false,
});

/** What is wrong with a typed number, or null: beyond every plant it is a slip of the finger. */
export function slip(tables: Tables, name: string, value: number): "no_number" | "too_big" | null {
  if (!Number.isFinite(value) || value < 0) return "no_number";
  const { most } = character(tables, name);
  return most !== null && most !== undefined && value > most ? "too_big" : null;
}
