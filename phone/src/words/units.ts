/** Lengths and areas as this person reads them. SI inside, always. */
import { settings } from "../store/settings";
import { t } from "./index";

const FT = 0.3048;
const MILE = 1609.344;

export const feet = (m: number): number => m / FT;
export const isUs = (): boolean => settings().units === "us";

function about(value: number): string {
  if (value === 0 || !Number.isFinite(value)) return "0";
  const digits = Math.max(0, 1 - Math.floor(Math.log10(Math.abs(value))));
  const rounded = value >= 100 ? Math.round(value / 10) * 10 : Number(value.toFixed(Math.min(digits, 1)));
  return rounded.toLocaleString(settings().language === "es" ? "es-MX" : "en-US");
}

/** A distance on the ground: feet or miles, metres or kilometres. */
export function distance(m: number): string {
  if (isUs()) {
    const ft = m / FT;
    return ft < 1320 ? t("{n} ft", { n: about(ft) }) : t("{n} mi", { n: about(m / MILE) });
  }
  return m < 1000 ? t("{n} m", { n: about(m) }) : t("{n} km", { n: about(m / 1000) });
}
