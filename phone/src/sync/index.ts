/**
 * One run at a time over all tabs (`navigator.locks`): entries out, pictures out, entries in, today in. What one run
 * leaves undone the next one does; no step needs the memory of another.
 */
import { changed, clockError, listen, moment, open } from "../store";
import { daysAreRight, pushEntries } from "./entries";
import { Refusal, Unreachable } from "./office";
import { pushPictures } from "./pictures";
import { takeEntries, takeToday } from "./take";

export * from "./office";
export { wrongDays } from "./entries";

/** How the last run went. `out`: this phone has not been let in, or no longer is. */
export interface Run {
  outcome: "done" | "unreachable" | "out" | "trouble";
  at: string;
  done_at?: string;
  said?: string;
}

const LOCK = "tepal-outbox";
const SOON_MS = 1_200;
const OFTEN_MS = 60_000;

export async function lastRun(): Promise<Run | undefined> {
  return (await (await open()).get("today", "sync"))?.value as Run | undefined;
}

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
        await once();
      } while (again);
    } finally {
      running = undefined;
    }
  })();
  return running;
}

async function once(): Promise<void> {
  await navigator.locks.request(LOCK, { ifAvailable: true }, async (lock) => {
    if (lock === null) return;
    changed("sync");
    await note(await run());
  });
}

async function run(): Promise<Pick<Run, "outcome" | "said">> {
  try {
    await pushEntries();
    await pushPictures();
    await takeEntries();
    await takeToday();
    return { outcome: "done" };
  } catch (problem) {
    if (problem instanceof Unreachable) return { outcome: "unreachable" };
    if (problem instanceof Refusal && (problem.status === 401 || problem.status === 403)) return { outcome: "out" };
    console.error(problem);
    return { outcome: "trouble", said: problem instanceof Error ? problem.message : String(problem) };
  }
}

async function note(result: Pick<Run, "outcome" | "said">): Promise<void> {
  const before = await lastRun();
  const at = moment();
  const done = result.outcome === "done";
  const kept: Run = { ...result, at };
  const doneAt = done ? at : before?.done_at;
  if (doneAt !== undefined) kept.done_at = doneAt;
  if (done && clockError() === 0) await daysAreRight();
  await (await open()).put("today", { key: "sync", value: kept, at });
  changed("sync");
}

/** Runs at the start, soon after each entry, when there is signal again, when the app is looked at, and now and then. */
export function keepInStep(): () => void {
  let timer: ReturnType<typeof setTimeout> | undefined;
  let failed = 0;
  const soon = (ms = SOON_MS) => {
    clearTimeout(timer);
    timer = setTimeout(() => void attempt().catch((problem: unknown) => console.error(problem)), ms);
  };
  const attempt = async () => {
    await sync();
    failed = (await lastRun())?.outcome === "unreachable" ? failed + 1 : 0;
    // A signal that comes and goes: soon again at first, then less often.
    if (failed > 0 && document.visibilityState === "visible") soon(Math.min(OFTEN_MS, SOON_MS * 2 ** failed));
  };
  let waiting = 0;
  const count = async () => {
    const db = await open();
    const now = (await db.count("outbox")) + (await db.count("photos"));
    // Only what is new calls for a run: a run itself changes the outbox, too.
    if (now > waiting) soon();
    waiting = now;
  };
  const stop = listen(["outbox", "photos"], () => void count());
  const online = () => soon(200);
  const seen = () => document.visibilityState === "visible" && soon(500);
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
