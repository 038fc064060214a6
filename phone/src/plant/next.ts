// Steps 6 to 8: which look comes next, and whether any is worth its seconds.
import { filled, FLOOR, ofMeasure, ofStates, reach } from "./likelihood.ts";
import { alike, character, isAbsent, rowsAt, stageOf, sum, type Looks, type Tables } from "./tables.ts";

export interface Next {
  name: string;
  gain: number;
  seconds: number;
}

/** What a look could show: probability of each outcome by name (rows sum to 1 by name), and who is told of. */
export function outcomes(
  tables: Tables, name: string, stage: string, prior: readonly number[], asked: number
): { rows: number[][]; known: boolean[] } {
  const { nodes, overlap_correlation } = tables.settings;
  const rows = rowsAt(tables, name, stage) ?? {};
  const [low, high] = reach(rows);
  const likelihoods = character(tables, name).states
    ? ofStates(tables, name, stage)
    : Array.from({ length: nodes }, (_, i) =>
        ofMeasure(tables, name, stage, low + ((high - low) * i) / (nodes - 1), 1)
      );
  const weight = stageOf(tables, stage).temper / (1 + asked * overlap_correlation);
  const full = normal(likelihoods.map((row) => filled(row, prior)));
  const raised = full.map((row) => row.map((v) => Math.exp(weight * Math.log(Math.max(v, FLOOR)))));
  return { rows: normal(raised), known: (likelihoods[0] ?? []).map((v) => v !== null) };
}

/** Each column divided by its sum. */
function normal(rows: number[][]): number[][] {
  const sums = (rows[0] ?? []).map((_, k) => sum(rows.map((row) => row[k] ?? 0)));
  return rows.map((row) => row.map((v, k) => v / (sums[k] ?? 1)));
}

/** Expected loss of treating the plant as each name, shape = (K,). */
export const risks = (p: readonly number[], loss: readonly number[][]): number[] =>
  loss.map((row) => sum(row.map((cost, k) => cost * (p[k] ?? 0))));

function value(tables: Tables, p: readonly number[], loss: readonly number[][]): number {
  const risk = risks(p, loss);
  const drawn = sum(risk.map((r, k) => r * (p[k] ?? 0)));
  const h = tables.settings.drawn_share;
  const doubt = -sum(p.map((q) => (q > 0 ? q * Math.log(q) : 0)));
  return (1 - h) * Math.min(...risk.slice(0, tables.taxa), tables.costs.sample) + h * drawn + tables.costs.doubt * doubt;
}

export function nextLooks(
  tables: Tables, p: readonly number[], looks: Looks, stage: string, prior: readonly number[]
): Next[] {
  const told = stageOf(tables, stage);
  const asked = Object.keys(looks);
  const coarse = new Set(asked.map((name) => character(tables, name).binned_from));
  const now = value(tables, p, told.loss);
  const found: (Next & { order: number })[] = [];
  told.asked.forEach((name, order) => {
    const from = character(tables, name).binned_from;
    if (asked.includes(name) || coarse.has(name) || (from && asked.includes(from)) || isAbsent(tables, name, looks)) return;
    const { rows, known } = outcomes(tables, name, stage, prior, alike(tables, name, asked));
    let after = 0;
    for (const row of rows) {
      const joint = row.map((v, k) => v * (p[k] ?? 0));
      const mass = sum(joint);
      if (mass > FLOOR) after += mass * value(tables, joint.map((v) => v / mass), told.loss);
    }
    const gain = (now - after) * sum(p.filter((_, k) => known[k]));
    const seconds = character(tables, name).seconds + tables.settings.asking_seconds;
    if (gain > 0) found.push({ name, gain, seconds, order });
  });
  found.sort((a, b) => b.gain / b.seconds - a.gain / a.seconds || a.order - b.order);
  return found.map(({ name, gain, seconds }) => ({ name, gain, seconds }));
}

export const isEnough = (tables: Tables, following: readonly Next[]): boolean =>
  following.every(({ gain, seconds }) => gain <= tables.costs.second * seconds);
