/** How far this phone's clock is off, in seconds (positive: ahead), as the office's answers told it. */
import { open } from "./db";
import { changed } from "./live";

let known = 0;

export const clockError = (): number => known;

export async function loadClockError(): Promise<void> {
  known = ((await (await open()).get("settings", "clock_error"))?.value as number | undefined) ?? 0;
}

export async function setClockError(seconds: number): Promise<void> {
  // Under two minutes it is the network's doing as much as the clock's.
  const shown = Math.abs(seconds) < 120 ? 0 : Math.round(seconds);
  if (shown === known) return;
  known = shown;
  await (await open()).put("settings", { key: "clock_error", value: shown });
  changed("settings");
}
