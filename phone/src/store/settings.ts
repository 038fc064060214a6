/** How this person holds and reads the phone. */
import { open } from "./db";
import { changed } from "./live";

export interface Settings {
  language: "en" | "es";
  units: "us" | "metric";
  hand: "right" | "left";
  gloves: boolean;
  /** Black on white, whatever the phone's own look is. */
  sun: boolean;
  /** Row width that a stop starts with, cm (76.2 = 30 in). */
  row_cm: number;
}

const FIRST: Settings = {
  language: navigator.language.toLowerCase().startsWith("es") ? "es" : "en",
  units: "us",
  hand: "right",
  gloves: false,
  sun: false,
  row_cm: 76.2,
};

let now: Settings = FIRST;

export const settings = (): Settings => now;

export async function loadSettings(): Promise<Settings> {
  const saved = (await (await open()).get("settings", "settings"))?.value as Partial<Settings> | undefined;
  now = { ...FIRST, ...saved };
  return now;
}

export async function saveSettings(change: Partial<Settings>): Promise<void> {
  now = { ...now, ...change };
  await (await open()).put("settings", { key: "settings", value: now });
  changed("settings");
}
