/** Something that is being written down: shown at once, on the disk at every tap, and there again after a restart. */
import { useEffect, useRef, useState } from "preact/hooks";
import { buzz } from "../shell/keys";
import type { Saving } from "../shell/saving";
import { saveDraft } from "../store";

export function useUnderWay<T>(key: string, begin: () => Promise<T>, saving: Saving): [T | undefined, (by: Partial<T>) => Promise<void>] {
  const [now, setNow] = useState<T>();
  // Two taps may come before the screen is drawn anew: the second builds on the first.
  const latest = useRef<T | undefined>(undefined);
  const show = (next: T): T => {
    latest.current = next;
    setNow(() => next);
    return next;
  };
  useEffect(() => {
    let here = true;
    begin().then((found) => here && show(found), console.error);
    return () => void (here = false);
  }, []);
  const change = async (by: Partial<T>): Promise<void> => {
    if (latest.current === undefined) return;
    const next = show({ ...latest.current, ...by });
    await saving.run(async () => {
      await saveDraft(key, next);
      buzz();
    });
  };
  return [now, change];
}
