// Steps 1, 2 and 5 of "To the last digit" (docs/rooms/plant.md): what one look says of each name.
import { character, rowsAt, sum, type Rows, type Tables, type Told } from "./tables.ts";

export const FLOOR = 1e-280;

/** log Γ(x) for x from one half upwards: its recurrence up to 15, then Stirling's series. */
export function logGamma(x: number): number {
  let shift = 0;
  let at = x;
  for (; at < 15; at += 1) shift -= Math.log(at);
  const y = 1 / (at * at);
  const series = (1 / 12 - y * (1 / 360 - y * (1 / 1260 - y * (1 / 1680 - y / 1188)))) / at;
  return shift + (at - 0.5) * Math.log(at) - at + Math.log(2 * Math.PI) / 2 + series;
}

export function student(x: number, mean: number, scale: number, freedom: number): number {
  const top = logGamma((freedom + 1) / 2) - logGamma(freedom / 2) - Math.log(freedom * Math.PI) / 2;
  const z = (x - mean) / scale;
  return Math.exp(top - Math.log(scale) - ((freedom + 1) / 2) * Math.log1p((z * z) / freedom));
}

/** Likelihood of every state, each by name. */
export function ofStates(tables: Tables, name: string, stage: string): Told[] {
  const rows = needed(tables, name, stage);
  const { states = [], misread = 0 } = character(tables, name);
  const { base_mass: base, misread_scale, reliability } = tables.settings;
  const size = states.length;
  const right = (1 - misread * misread_scale) * reliability;
  return states.map((_, state) => {
    const p: Told = taxa(tables).map((code) => {
      const row = rows[code];
      return row ? ((row[0] ?? 0) * (row[1 + state] ?? 0) + base / size) / ((row[0] ?? 0) + base) : null;
    });
    const told = p.filter((value) => value !== null);
    for (const [a, b] of tables.crosses) p.push(both(p[a], p[b], (one, two) => (one + two) / 2));
    p.push((sum(told) / told.length + 1 / size) / 2);
    return p.map((v) => (v === null ? null : right * v + ((1 - right) * (1 - v)) / (size - 1)));
  });
}

/** Likelihood of a mean `x` of `leaves` distinct values, by name. */
export function ofMeasure(tables: Tables, name: string, stage: string, x: number, leaves: number): Told {
  const rows = needed(tables, name, stage);
  const { freedom, leaf_correlation: leaf, reliability: r } = tables.settings;
  const reading = character(tables, name).reading_cv ?? 0;
  const parts = taxa(tables).map((code) => measure(rows[code]));
  const told = parts.filter((part) => part !== null);
  const density = (mean: number, sd: number, doubt: number): number =>
    student(x, mean, Math.sqrt(sd ** 2 * (leaf + (1 - leaf) / leaves) + doubt ** 2 + (reading * mean) ** 2 / leaves), freedom);
  const centre = sum(told.map(({ mean }) => mean)) / told.length;
  const wide = sum(told.map(({ mean, sd }) => (mean - centre) ** 2 + sd ** 2)) / told.length;
  const anything = student(x, centre, 2 * Math.sqrt(wide), freedom);
  const p: Told = parts.map((part) => (part ? density(part.mean, part.sd, part.sd * part.q) : null));
  for (const [a, b] of tables.crosses) {
    const middle = both(parts[a], parts[b], (one, two) =>
      density((one.mean + two.mean) / 2, (one.sd + two.sd) / 2, (one.sd * one.q + two.sd * two.q) / 2)
    );
    p.push(middle === null ? null : both(p[a], p[b], (one, two) => middle / 2 + one / 4 + two / 4));
  }
  p.push(anything);
  return p.map((v) => (v === null ? null : r * v + (1 - r) * anything));
}

/** A name without a row takes the mean of those that have one, weighted by the prior. */
export function filled(values: Told, prior: readonly number[]): number[] {
  let whole = 0;
  values.forEach((v, k) => (whole += v === null ? 0 : (prior[k] ?? 0)));
  let top = 0;
  let under = 0;
  values.forEach((v, k) => {
    if (v === null) return;
    const weight = whole > 0 ? (prior[k] ?? 0) : 1;
    top += weight * v;
    under += weight;
  });
  return values.map((v) => (v === null ? top / under : v));
}

/** Where a measure of these rows can lie: three standard deviations around every mean, from 0 upwards. */
export function reach(rows: Rows): [number, number] {
  let low = Infinity;
  let high = -Infinity;
  for (const row of Object.values(rows)) {
    const part = measure(row);
    if (!part) continue;
    const far = 3 * Math.sqrt(part.sd ** 2 + (part.sd * part.q) ** 2);
    low = Math.min(low, part.mean - far);
    high = Math.max(high, part.mean + far);
  }
  return [Math.max(low, 0), high];
}

const taxa = (tables: Tables): string[] => tables.names.slice(0, tables.taxa);

function needed(tables: Tables, name: string, stage: string): Rows {
  const rows = rowsAt(tables, name, stage);
  if (!rows) throw new RangeError(`Nothing is told of ${name} at ${stage}.`);
  return rows;
}

function measure(row: number[] | undefined): { mean: number; sd: number; q: number } | null {
  return row ? { mean: row[0] ?? 0, sd: row[1] ?? 0, q: row[2] ?? 0 } : null;
}

function both<T>(one: T | null | undefined, two: T | null | undefined, join: (one: T, two: T) => number): number | null {
  return one === null || one === undefined || two === null || two === undefined ? null : join(one, two);
}
