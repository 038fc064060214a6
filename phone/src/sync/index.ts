/** Entries out, pictures out, entries in, today in: at once where there is signal, later where there is none. */
import { listen, open } from "../store";
import { askToBeWoken } from "./background";
import { pushEntries } from "./entries";
import { pushPictures } from "./pictures";
import { lastRun, once } from "./run";
import { takeEntries, takeToday } from "./take";

export * from "./office";
export { canBeWoken } from "./background";
export { wrongDays } from "./entries";
export { type Run, lastRun } from "./run";

const SOON_MS = 1_200;
const OFTEN_MS = 60_000;
const STEPS = [pushEntries, pushPictures, takeEntries, takeToday];

let running: Promise<void> | undefined;
let again = false;

/** Sends and takes. Asked for while it runs, it runs once more; where another tab is at it, that one does the work. */
export function sync(): Promise<void> {
  if (running !== undefined) {
    // What called for it may have come too late for the run that is under way.
    again = true;
    return running;
  }
  running = (async () => {
    try {
      do {
        again = false;
        await once(STEPS);
      } while (again);
    } finally {
      running = undefined;
    }
  })();
  return running;
}

/** Runs at the start, soon after each entry, when there is signal again, when the app is looked at, and now and then. */
export function keepInStep(): () => void {
  let timer: ReturnType<typeof setTimeout> | undefined;
  let failed = 0;
  let waiting = 0;
  const soon = (ms = SOON_MS) => {
    clearTimeout(timer);
    timer = setTimeout(() => void attempt().catch((problem: unknown) => console.error(problem)), ms);
  };
  const attempt = async () => {
    await sync();
    failed = (await lastRun())?.outcome === "unreachable" ? failed + 1 : 0;
    if (failed > 0 && waiting > 0) void askToBeWoken();
    // A signal that comes and goes: soon again at first, then less often.
    if (failed > 0 && document.visibilityState === "visible") soon(Math.min(OFTEN_MS, SOON_MS * 2 ** failed));
  };
  const count = async () => {
    const db = await open();
    const now = (await db.count("outbox")) + (await db.count("photos"));
    // Only what is new calls for a run: a run itself changes the outbox, too.
    if (now > waiting) soon();
    waiting = now;
  };
  const stop = listen(["outbox", "photos"], () => void count());
  const online = () => soon(200);
  const seen = () => {
    if (document.visibilityState === "visible") soon(500);
    // Perhaps for good: what is not sent now, the worker sends.
    else if (waiting > 0) void askToBeWoken();
  };
  addEventListener("online", online);
  document.addEventListener("visibilitychange", seen);
  const often = setInterval(() => document.visibilityState === "visible" && soon(0), OFTEN_MS);
  soon(0);
  return () => {
    stop();
    clearTimeout(timer);
    clearInterval(often);
    removeEventListener("online", online);
    document.removeEventListener("visibilitychange", seen);
  };
}
