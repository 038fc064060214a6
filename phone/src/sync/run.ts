/**
 * One sender at a time over all tabs and the worker (`navigator.locks`), and how the last run went. What one run leaves
 * undone the next one does; no step needs the memory of another.
 */
import { changed, clockError, moment, open } from "../store";
import { daysAreRight } from "./entries";
import { Refusal, Unreachable } from "./office";

/** How the last run went. `out`: this phone has not been let in, or no longer is. */
export interface Run {
  outcome: "done" | "unreachable" | "out" | "trouble";
  at: string;
  done_at?: string;
  said?: string;
}

const LOCK = "tepal-outbox";
/** Under this name a browser wakes the worker when there is signal again. */
export const TAG = "tepal-outbox";

export async function lastRun(): Promise<Run | undefined> {
  return (await (await open()).get("today", "sync"))?.value as Run | undefined;
}

/** Does the steps, unless another tab or the worker is at it; how they went, undefined where they were left to another. */
export function once(steps: (() => Promise<void>)[]): Promise<Run["outcome"] | undefined> {
  return navigator.locks.request(LOCK, { ifAvailable: true }, async (lock) => {
    if (lock === null) return undefined;
    changed("sync");
    const result = await outcome(steps);
    await note(result);
    return result.outcome;
  });
}

async function outcome(steps: (() => Promise<void>)[]): Promise<Pick<Run, "outcome" | "said">> {
  try {
    for (const step of steps) await step();
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
