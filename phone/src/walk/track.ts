/** From a receiver's fixes to the line that was walked: noise smoothed, gaps left open, small enough for one entry. */
import type { Fix, Point, WalkBody } from "../store";
import { apart, thinned } from "./ground.ts";

/** Longer without a fix than this, and the line between was not walked under the receiver's eye. */
export const GAP_S = 20;
/** A fix that doubtful says nothing of which rows were walked. */
export const WORST_M = 40;
const WINDOW_S = 4;
/** An entry may have 64 kB; a track leaves room for the rest. */
const MOST_BYTES = 50_000;

/**
 * The error (1 sd) that goes into the record, from the radius that a phone tells. The standard calls it 95 %, phones tell
 * mostly 68 %: it is read as 68 % of a circular normal error (radius 1.51 sd), so that it is rather too large than too small.
 */
export const sd = (accuracy_m: number): number => Math.max(1, accuracy_m / 1.51);

/** The fixes as unbroken pieces. */
export function pieces(fixes: Fix[]): Fix[][] {
  const out: Fix[][] = [];
  let before: Fix | undefined;
  for (const fix of fixes) {
    if (fix.error_m > sd(WORST_M)) continue;
    if (before === undefined || fix.gap || fix.t - before.t > GAP_S * 1000) out.push([]);
    out.at(-1)!.push(fix);
    before = fix;
  }
  return out;
}

/** Each place as the mean of those within a few seconds, the surer ones counting more (weights 1/sd²). */
export function smoothed(piece: Fix[]): Point[] {
  let from = 0;
  return piece.map((fix) => {
    while (piece[from]!.t < fix.t - WINDOW_S * 1000) from++;
    let [lon, lat, weights] = [0, 0, 0];
    for (let i = from; i < piece.length && piece[i]!.t <= fix.t + WINDOW_S * 1000; i++) {
      const weight = 1 / piece[i]!.error_m ** 2;
      lon += piece[i]!.at[0] * weight;
      lat += piece[i]!.at[1] * weight;
      weights += weight;
    }
    return [lon / weights, lat / weights];
  });
}

const rounded = (line: Point[]): Point[] => line.map(([lon, lat]) => [Number(lon.toFixed(6)), Number(lat.toFixed(6))]);

export function lines(fixes: Fix[], within = 1): Point[][] {
  return pieces(fixes)
    .filter((piece) => piece.length > 1)
    .map((piece) => rounded(thinned(smoothed(piece), within)));
}

export function metresWalked(fixes: Fix[]): number {
  let sum = 0;
  for (const line of lines(fixes)) for (let i = 1; i < line.length; i++) sum += apart(line[i - 1]!, line[i]!);
  return sum;
}

/** The track for a `walk` entry, or undefined where there is none. */
export function trackOf(fixes: Fix[]): WalkBody["track"] {
  for (let within = 1; ; within *= 2) {
    const found = lines(fixes, within);
    if (found.length === 0) return undefined;
    if (JSON.stringify(found).length > MOST_BYTES && within < 64) continue;
    return found.length === 1
      ? { type: "LineString", coordinates: found[0]! }
      : { type: "MultiLineString", coordinates: found };
  }
}

/** Time that lies in gaps, in whole minutes, and how many gaps there are. */
export function gaps(fixes: Fix[]): { number: number; minutes: number } {
  const parts = pieces(fixes);
  let ms = 0;
  for (let i = 1; i < parts.length; i++) ms += parts[i]![0]!.t - parts[i - 1]!.at(-1)!.t;
  return { number: Math.max(0, parts.length - 1), minutes: Math.round(ms / 60_000) };
}
