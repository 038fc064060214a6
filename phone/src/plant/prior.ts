// A prior of a place from its weights: "The model" in docs/rooms/plant.md, with the numbers of the compiled tables.
import { stageNames, stageOf, sum, type Tables } from "./tables.ts";

/** By stage, how probable each name is before any look; `weights` is code → weight, as the office reckoned them. */
export function priorOf(tables: Tables, weights: Readonly<Record<string, number>>): Record<string, number[]> {
  const known = Object.entries(weights).every(([code, w]) => tables.names.includes(code) && w >= 0 && Number.isFinite(w));
  if (!known || !(sum(Object.values(weights)) > 0)) throw new RangeError("No weights of names in the tables.");
  return Object.fromEntries(stageNames(tables).map((stage) => [stage, at(tables, weights, stageOf(tables, stage).alike)]));
}

function at(tables: Tables, given: Readonly<Record<string, number>>, alike: number): number[] {
  const { mean, pigweed, region_mix: mix } = tables.weights;
  const codes = tables.names.slice(0, tables.taxa);
  const listed = codes.map((code) => given[code] ?? 0);
  const local = listed.map((w, k) => (pigweed[k] ? w : 0));
  const total = sum(local);
  const means = sum(mean);
  const pigweeds = local.map((w, k) =>
    total > 0 ? ((1 - mix) * w) / total + (mix * (mean[k] ?? 0)) / means : (mean[k] ?? 0)
  );
  // Look-alikes keep their share of the stage in equal parts, unless the place has weights for them.
  const others = listed.map((w, k) => (pigweed[k] ? 0 : w));
  const own = sum(others) > 0;
  const share = own ? sum(others) / sum(listed) : pigweed.every(Boolean) ? 0 : alike;
  const parts = own ? others : pigweed.map((is) => (is ? 0 : 1));
  const whole = Math.max(sum(parts), Number.MIN_VALUE);
  const taxa = pigweeds.map((p, k) => (1 - share) * p + (share * (parts[k] ?? 0)) / whole);
  const scale = sum(Object.values(given));
  const crosses = tables.crosses.map((pair, row) => {
    const name = tables.names[tables.taxa + row] ?? "";
    return name in given ? (given[name] ?? 0) / scale : cross(tables, taxa, pair, row);
  });
  const other = "other" in given ? (given["other"] ?? 0) / scale : tables.weights.other_weight;
  const rest = Math.max(1 - other - sum(crosses), 0);
  const all = sum(taxa);
  const result = [...taxa.map((p) => (rest * p) / all), ...crosses, other];
  const over = sum(result);
  return result.map((p) => p / over);
}

/** A mother's share times her hybrid offspring where the other's pollen is about, both ways, and the rates' doubt. */
function cross(tables: Tables, taxa: readonly number[], [one, two]: [number, number], row: number): number {
  const { rates, pollen_nearby: nearby, cross_doubt: doubt } = tables.weights;
  const [a, b] = [taxa[one] ?? 0, taxa[two] ?? 0];
  const [first, second] = rates[row] ?? [0, 0];
  const found = first > 0 || second > 0 ? doubt : 0;
  const mean = a + b > 0 ? (2 * a * b) / (a + b) : 0;
  return (a * first * b) / (b + nearby) + (b * second * a) / (a + nearby) + found * mean;
}
