// Numbers as a tired person would say them: the same words as `tepal.words` finds.
import type { T, Texts } from "./texts.ts";

const gcd = (a: number, b: number): number => (b === 0 ? a : gcd(b, a % b));
const FRACTIONS = [2, 3, 4, 5, 10, 20, 50, 100]
  .flatMap((n) => Array.from({ length: n - 1 }, (_, k): [number, number] => [k + 1, n]))
  .filter(([k, n]) => gcd(k, n) === 1)
  .concat([[1, 25], [1, 200]]);

export function chance(t: T, p: number): string {
  if (p < 0.005) return t("less than 1 chance in 200");
  if (p > 0.995) return t("more than 199 chances in 200");
  if (p > 0.9) return t("about {n} chances in 100", { n: Math.min(99, Math.round(100 * p)) });
  const key = ([k, n]: [number, number]): number[] => {
    const off = Math.abs(k / n - p);
    return p >= 0.05 ? [off > 0.025 ? 1 : 0, n, off] : [Math.abs(1 - k / n / p), n];
  };
  const less = (a: number[], b: number[]): boolean => {
    const at = a.findIndex((value, i) => value !== b[i]);
    return at >= 0 && (a[at] ?? 0) < (b[at] ?? 0);
  };
  const [k, n] = FRACTIONS.reduce((best, one) => (less(key(one), key(best)) ? one : best));
  return k === 1 ? t("about 1 chance in {n}", { n }) : t("about {k} chances in {n}", { k, n });
}

/** How sure, as an adverb that follows a name. */
export function sureness(texts: Texts, p: number): string {
  return texts.sureness.find(([least]) => p >= least)?.[1] ?? "";
}

/** Rounded to two figures: 1,234 becomes 1,200. */
export function about(value: number): string {
  if (!value || !Number.isFinite(value)) return String(value);
  const digits = 1 - Math.floor(Math.log10(Math.abs(value)));
  const rounded = digits >= 0 ? Number(value.toFixed(Math.min(digits, 20))) : Math.round(value * 10 ** digits) / 10 ** digits;
  return rounded.toLocaleString("en-US", { maximumSignificantDigits: 10 });
}
