/** Sizes and looked-at areas as they are tapped, with their words. */
import type { SizeClass, StopBody } from "../store";
import { isUs, large, t } from "../words";

export const SIZES: readonly SizeClass[] = ["seedling", "under_10_cm", "10_30_cm", "30_100_cm", "over_100_cm"];

export function saySize(size: SizeClass): string {
  switch (size) {
    case "seedling": return t("Seedlings");
    case "under_10_cm": return isUs() ? t("Up to 4 in") : t("Up to 10 cm");
    case "10_30_cm": return isUs() ? t("4 to 12 in") : t("10 to 30 cm");
    case "30_100_cm": return isUs() ? t("1 to 3 ft") : t("30 to 100 cm");
    case "over_100_cm": return isUs() ? t("Over 3 ft") : t("Over 1 m");
    case "unknown": return t("Any size");
  }
}

export function sayTaxon(code: string): string {
  switch (code) {
    case "AMAPA": return large(t("Palmer amaranth"));
    case "AMATU": return large(t("waterhemp"));
    case "pigweed": return t("Pigweed, not named");
    default: return code;
  }
}

const FT = 0.3048;
const IN = 2.54;

/** A length of row, in metres, or an area, in square metres. */
export type Looked = Pick<StopBody, "row_m" | "row_cm" | "area_m2">;

export function rowLengths(): number[] {
  return isUs() ? [3, 10, 17.5, 50].map((ft) => ft * FT) : [1, 3, 5, 20];
}

export function rowWidths(): number[] {
  return isUs() ? [15, 20, 22, 30, 36, 38].map((inch) => inch * IN) : [38, 50, 56, 75, 90, 97];
}

export function areas(): number[] {
  return isUs() ? [9, 100, 900].map((sqft) => sqft * FT * FT) : [0.25, 1, 10, 100];
}

const plain = (n: number): string => String(Number(n.toFixed(n < 10 ? 1 : 1)));

export const sayRow = (m: number): string =>
  isUs() ? t("{n} ft of row", { n: plain(m / FT) }) : t("{n} m of row", { n: plain(m) });

export const sayWidth = (cm: number): string => (isUs() ? t("{n} in", { n: plain(cm / IN) }) : t("{n} cm", { n: plain(cm) }));

export const sayArea = (m2: number): string =>
  isUs() ? t("{n} square feet", { n: plain(m2 / FT / FT) }) : t("{n} m²", { n: plain(m2) });

export function sayLooked({ row_m, row_cm, area_m2 }: Looked): string {
  if (area_m2 !== undefined) return sayArea(area_m2);
  if (row_m === undefined) return t("not said how much");
  return row_cm === undefined ? sayRow(row_m) : t("{row}, rows {width} apart", { row: sayRow(row_m), width: sayWidth(row_cm) });
}
