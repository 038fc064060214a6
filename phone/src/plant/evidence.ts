// Steps 3 to 5: what all looks together say, of one stage or of all.
import { filled, FLOOR, ofMeasure, ofStates } from "./likelihood.ts";
import { alike, CANNOT_TELL, character, isOwn, rowsAt, stageNames, stageOf, sum, UNKNOWN } from "./tables.ts";
import type { Answer, Looks, Tables } from "./tables.ts";

/** A look as it counts: shares of states seen, or the mean of what was measured. */
export interface Counted {
  name: string;
  states: [string, number][] | null;
  value: number;
  leaves: number;
}

export interface Asked {
  looks: Looks;
  stage: string;
  /** Prior by stage, each of K numbers that sum to 1. */
  priors: Record<string, readonly number[]>;
}

export interface Found {
  posterior: number[];
  /** Probability of each stage, in the order of a plant's life; of the one stage where it is known. */
  stages: [string, number][];
  lead: string;
}

export function counted(tables: Tables, looks: Looks): Counted[] {
  const found: Counted[] = [];
  for (const [name, given] of Object.entries(looks)) {
    const answers = [given].flat().filter((answer): answer is Answer => answer !== CANNOT_TELL);
    if (!answers.length) continue;
    const distinct = [...new Set(answers)];
    const share = (state: Answer): number => answers.filter((answer) => answer === state).length / answers.length;
    const states = character(tables, name).states
      ? distinct.map((state): [string, number] => [String(state), share(state)])
      : null;
    found.push({ name, states, leaves: distinct.length, value: states ? NaN : sum(distinct.map(Number)) / distinct.length });
  }
  return found;
}

/** The exponent of each look at a stage; 0 where it counts nothing there. */
export function weights(tables: Tables, looks: readonly Counted[], stage: string): number[] {
  const names = looks.map(({ name }) => name);
  const counts = names.filter(
    (name) => rowsAt(tables, name, stage) && !names.includes(character(tables, name).binned_from ?? "")
  );
  const { overlap_correlation, borrowed_weight, leaf_correlation } = tables.settings;
  return looks.map(({ name, states, leaves }) => {
    if (!counts.includes(name)) return 0;
    const others = Math.max(alike(tables, name, counts) - 1, 0);
    let weight = stageOf(tables, stage).temper / (1 + others * overlap_correlation);
    if (!isOwn(tables, name, stage)) weight *= borrowed_weight;
    return states ? (weight * leaves) / (1 + (leaves - 1) * leaf_correlation) : weight;
  });
}

/** The logarithm of one look's likelihood by name, raised to its weight. */
export function logLook(tables: Tables, look: Counted, weight: number, stage: string, asked: Asked): number[] {
  const total = tables.names.map(() => 0);
  if (!weight) return total;
  const states = character(tables, look.name).states ?? [];
  const byState = look.states ? ofStates(tables, look.name, stage) : [];
  const parts = look.states
    ? look.states.map(([state, share]) => ({ share, likelihood: byState[states.indexOf(state)] }))
    : [{ share: 1, likelihood: ofMeasure(tables, look.name, stage, look.value, look.leaves) }];
  for (const { share, likelihood } of parts) {
    if (!likelihood) throw new RangeError(`${look.name} has no such state.`);
    const raised = likelihood.map((v) => (v === null ? null : v ** weight));
    filled(raised, asked.priors[stage] ?? []).forEach((v, k) => {
      total[k] = (total[k] ?? 0) + share * Math.log(Math.max(v, FLOOR));
    });
  }
  return total;
}

export function posterior(tables: Tables, asked: Asked): Found {
  const looks = counted(tables, asked.looks);
  const stages = asked.stage === UNKNOWN ? stageNames(tables) : [asked.stage];
  const logs = stages.map((stage) => {
    const heavy = weights(tables, looks, stage);
    const by = looks.map((look, at) => logLook(tables, look, heavy[at] ?? 0, stage, asked));
    const strays = asked.stage === UNKNOWN ? looks.filter(({ name }) => !isOwn(tables, name, stage)).length : 0;
    const stray = strays * Math.log(tables.settings.stage_misfit);
    return (asked.priors[stage] ?? []).map((p, k) => Math.log(p) + sum(by.map((row) => row[k] ?? 0)) + stray);
  });
  const top = Math.max(...logs.flat());
  const joint = logs.map((row) => row.map((v) => Math.exp(v - top)));
  const whole = sum(joint.flat());
  const byStage = stages.map((stage, at): [string, number] => [stage, sum(joint[at] ?? []) / whole]);
  return {
    posterior: tables.names.map((_, k) => sum(joint.map((row) => row[k] ?? 0)) / whole),
    stages: byStage,
    lead: leading(byStage),
  };
}

/** The likeliest stage; of equals to nine digits, the one nearest the middle of life: rounding must not choose. */
function leading(stages: [string, number][]): string {
  const middle = Math.floor(stages.length / 2);
  const rounded = stages.map(([, p]) => Math.round(p * 1e9));
  const order = stages.map((_, at) => at).sort((a, b) => Math.abs(a - middle) - Math.abs(b - middle) || a - b);
  const best = order.reduce((lead, at) => ((rounded[at] ?? 0) > (rounded[lead] ?? 0) ? at : lead));
  return stages[best]?.[0] ?? "";
}
