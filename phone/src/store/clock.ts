/**
 * How far this phone's clock is off, in seconds (positive: ahead), as the office's answers told it since the app was opened.
 * It is not kept longer: somebody may have set the clock meanwhile, and a correction that is wrong is worse than none.
 */
import { changed } from "./live";

let known = 0;
/** The wall clock less the time since the page was opened, when the error was found. */
let then = 0;

const wall = (): number => (Date.now() - performance.now()) / 1000;

export function clockError(): number {
  if (known === 0) return 0;
  // Set right since: the clock has jumped by what it was off. (Sleep moves it forward too, but hardly by just that much.)
  const jumped = wall() - then;
  return Math.abs(jumped + known) < Math.max(120, 0.02 * Math.abs(known)) ? 0 : known;
}

/** This moment, by the office's clock as far as it is known. */
export const rightNow = (): Date => new Date(Date.now() - clockError() * 1000);

export function setClockError(seconds: number): void {
  // Under two minutes it is the network's doing as much as the clock's.
  const found = Math.abs(seconds) < 120 ? 0 : Math.round(seconds);
  const before = known;
  [known, then] = [found, wall()];
  if (found !== before) changed("settings");
}
