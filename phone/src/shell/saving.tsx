/** Writing to the disk can fail (a full phone): then it is said at once, what was tapped stays on the screen, and can be tried again. */
import { useState } from "preact/hooks";
import { open } from "../store";
import { t } from "../words";
import { Key } from "./keys";

export interface Saving {
  problem: string | undefined;
  /** `quiet`: nobody tapped for it, so that its success is no answer to a tap that failed before. */
  run: (work: () => Promise<unknown>, quiet?: boolean) => Promise<void>;
  again: (() => Promise<void>) | undefined;
}

const isFull = (problem: unknown): boolean =>
  problem instanceof DOMException && (problem.name === "QuotaExceededError" || /quota|space|disk/i.test(problem.message));

/** What came along for comfort can be fetched again: pictures from the air go first. */
async function makeRoom(): Promise<boolean> {
  const db = await open();
  const keys = (await db.getAllKeys("today")).filter((key) => key.startsWith("aerial:"));
  for (const key of keys) await db.delete("today", key);
  return keys.length > 0;
}

export function useSaving(): Saving {
  const [problem, setProblem] = useState<string>();
  const [again, setAgain] = useState<() => Promise<void>>();
  const run = async (work: () => Promise<unknown>, quiet = false): Promise<void> => {
    try {
      try {
        await work();
      } catch (first) {
        if (!isFull(first) || !(await makeRoom().catch(() => false))) throw first;
        await work();
      }
      if (quiet) return;
      setProblem(undefined);
      setAgain(undefined);
    } catch (cause) {
      if (quiet) {
        // The next tap writes down what this one could not.
        console.warn(cause);
        return;
      }
      console.error(cause);
      setAgain(() => () => run(work));
      setProblem(isFull(cause)
        ? t("This phone is full: the last tap is not kept. Free some space (photos, other apps) and try again; do not close the app.")
        : t("The phone could not write this down: the last tap is not kept. Try again; do not close the app."));
    }
  };
  return { problem, run, again };
}

export function Trouble({ saving }: { saving: Saving }) {
  if (saving.problem === undefined) return null;
  return (
    <div class="told" role="alert">
      <p>{saving.problem}</p>
      <Key onTap={saving.again}>{t("Try again")}</Key>
    </div>
  );
}
