// Leaf stalk over blade from three points on a photo, and how far it may be off.

export interface Tap {
  /** In pixels of the photo. */
  x: number;
  y: number;
  /** Error of the point along each axis (1 sd), in pixels of the photo. */
  sd: number;
}

/** Foot of the stalk, where the blade begins, tip of the blade (without a hair on it). */
export type Points = readonly [foot: Tap, junction: Tap, tip: Tap];

export interface Ratio {
  value: number;
  /** 1 sd of the value. */
  sd: number;
  petiole_px: number;
  blade_px: number;
}

/*
 * Error of a point on the screen, mm (1 sd along each axis). A finger that comes down on a spot misses it by 1 to 2 mm (the
 * "absolute precision" of Bi, Li and Zhai, CHI 2013). A finger that rests on the glass can be steered to 0.2 mm (Bérard and
 * Rochet-Capellan, CHI 2012); a person who sees the spot enlarged errs by that, by lifting the finger, and by not being
 * sure where a stalk ends: 0.5 mm is our judgement.
 */
export const QUICK_MM = 1.5;
export const STEERED_MM = 0.5;
/** CSS pixels a millimetre on phones: 390 of them on glass 65 mm wide. */
export const CSS_PX_PER_MM = 6;

/*
 * What the photo itself does, as tepal.leaf reckons it: a camera 2.5° off the vertical (1 sd, judgement) with a focal length
 * of one longer side; and a stalk and a leaf that do not lie quite straight and flat, as a share of either length (judgement).
 */
const TILT = (2.5 * Math.PI) / 180;
const FOCAL = 1;
const LYING = 0.02;

/** Error of a tap in pixels of the photo; `scale`: CSS pixels on the screen for one of the photo. */
export const tapError = (steered: boolean, scale: number): number =>
  ((steered ? STEERED_MM : QUICK_MM) * CSS_PX_PER_MM) / scale;

/**
 * Petiole P = |junction − foot| over blade L = |tip − junction|, to first order in the errors of the points. With u and v
 * the directions of both, d log(P/L) is −u/P for the foot, u/P + v/L for the junction and −v/L for the tip, so that
 *
 *     var log(P/L) = s₁²/P² + s₂² (1/P² + 1/L² + 2 u·v/(P L)) + s₃²/L² + tilt² + 2 lying²
 *
 * `longSide`: of the photo, in its pixels. Null where two points are one.
 */
export function ratio([foot, junction, tip]: Points, longSide: number): Ratio | null {
  const [px, py] = [junction.x - foot.x, junction.y - foot.y];
  const [bx, by] = [tip.x - junction.x, tip.y - junction.y];
  const [p, b] = [Math.hypot(px, py), Math.hypot(bx, by)];
  if (!(p > 0 && b > 0)) return null;
  const along = (px * bx + py * by) / (p * b);
  const taps =
    foot.sd ** 2 / p ** 2 + junction.sd ** 2 * (1 / p ** 2 + 1 / b ** 2 + (2 * along) / (p * b)) + tip.sd ** 2 / b ** 2;
  const tilt = (2 * Math.sin(TILT) * Math.SQRT1_2 * ((p + b) / 2)) / (FOCAL * longSide);
  const value = p / b;
  return { value, sd: value * Math.sqrt(taps + tilt ** 2 + 2 * LYING ** 2), petiole_px: p, blade_px: b };
}

export type WhichLeaf = "lower" | "mid" | "upper";

/** As many answers stand for the chances of a state, as in tepal.leaf. */
const ANSWERS = 20;

/**
 * The ratio as a look: a number where its error is no larger than the tables' own for a ruler (`most`, a share); else, of a
 * lower leaf, the chances of shorter, about equal and longer as answers of the fold test; else null: come nearer.
 */
export function lookOf(
  found: Ratio, leaf: WhichLeaf, most: number
): { name: string; value: number | string | string[] } | null {
  if (found.sd <= most * found.value) return { name: `petiole_blade_ratio_${leaf}`, value: Number(found.value.toFixed(3)) };
  if (leaf !== "lower") return null;
  const shorter = below(0.9, found);
  const longer = 1 - below(1.1, found);
  return { name: "fold_test_lower_leaf", value: answers({ shorter, about_equal: 1 - shorter - longer, longer }) };
}

/** Shares as a list of answers, largest remainders first; what has less than a twentieth is left out. */
function answers(shares: Record<string, number>): string | string[] {
  const kept = Object.entries(shares).filter(([, share]) => share >= 1 / ANSWERS);
  const total = kept.reduce((all, [, share]) => all + share, 0);
  const exact = kept.map(([state, share]) => ({ state, value: (ANSWERS * share) / total }));
  const counts = new Map(exact.map(({ state, value }) => [state, Math.floor(value)]));
  const open = ANSWERS - [...counts.values()].reduce((all, n) => all + n, 0);
  const rest = ({ state, value }: { state: string; value: number }): number => (counts.get(state) ?? 0) - value;
  for (const { state } of [...exact].sort((a, b) => rest(a) - rest(b)).slice(0, open)) {
    counts.set(state, (counts.get(state) ?? 0) + 1);
  }
  const told = kept.flatMap(([state]) => Array.from({ length: counts.get(state) ?? 0 }, () => state));
  const only = new Set(told).size === 1 ? told[0] : undefined;
  return only ?? told;
}

/** Chance that a normal value lies below a limit. */
const below = (limit: number, { value, sd }: Ratio): number => normal((limit - value) / Math.max(sd, 1e-9));

/** The normal distribution, by Abramowitz and Stegun 26.2.17 (to 7.5e-8). */
export function normal(z: number): number {
  if (z < 0) return 1 - normal(-z);
  const k = 1 / (1 + 0.2316419 * z);
  const poly = k * (0.31938153 + k * (-0.356563782 + k * (1.781477937 + k * (-1.821255978 + k * 1.330274429))));
  return 1 - (Math.exp((-z * z) / 2) / Math.sqrt(2 * Math.PI)) * poly;
}
