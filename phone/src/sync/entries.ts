/** The outbox to the office: every entry is answered, and only what the office says that it holds leaves the outbox. */
import { type Unsent, changed, moment, open, setClockError, standing } from "../store";
import { type Answers, Refusal, json } from "./office";

// Below the contract's 500 entries and 2 MB, so that a thin connection loses little when it breaks.
const MOST_ENTRIES = 100;
const MOST_BYTES = 500_000;

function batch(unsent: Unsent[]): Unsent[] {
  const chosen: Unsent[] = [];
  let bytes = 0;
  for (const one of unsent) {
    bytes += JSON.stringify(one.entry).length;
    if (chosen.length > 0 && (chosen.length === MOST_ENTRIES || bytes > MOST_BYTES)) break;
    chosen.push(one);
  }
  return chosen;
}

export async function pushEntries(): Promise<void> {
  const db = await open();
  for (;;) {
    const unsent = (await db.getAll("outbox")).filter((one) => one.state === "unsent");
    if (unsent.length === 0) return;
    const chosen = batch(unsent);
    const answers = await handIn(chosen);
    await settle(chosen, answers);
  }
}

async function handIn(chosen: Unsent[]): Promise<Answers> {
  const body = JSON.stringify({ device_time: moment(), entries: chosen.map((one) => one.entry) });
  const headers = { "Content-Type": "application/json" };
  try {
    const answers = await json<Answers>("entries", { method: "POST", body, headers });
    setClockError(answers.skew_s);
    return answers;
  } catch (problem) {
    // The whole request was refused (too large, say): tell of one at a time which it is.
    if (!(problem instanceof Refusal) || problem.status === 401 || problem.status === 403) throw problem;
    if (chosen.length > 1) {
      const half = Math.ceil(chosen.length / 2);
      const first = await handIn(chosen.slice(0, half));
      await settle(chosen.slice(0, half), first);
      return handIn(chosen.slice(half));
    }
    const id = chosen[0]!.id;
    const refused = { id, outcome: "refused" as const, seq: null, problem: problem.problem };
    return { server_time: moment(), skew_s: 0, answers: [refused] };
  }
}

async function settle(chosen: Unsent[], { answers }: Answers): Promise<void> {
  const db = await open();
  const tx = db.transaction(["outbox", "entries"], "readwrite", { durability: "strict" });
  const outbox = tx.objectStore("outbox");
  const entries = tx.objectStore("entries");
  const told = new Map(answers.map((answer) => [answer.id, answer]));
  for (const one of chosen) {
    const answer = told.get(one.id);
    if (answer === undefined) continue;
    if (answer.outcome === "refused") {
      const problem = answer.problem ?? { title: "The office did not take it." };
      await outbox.put({ ...one, state: "refused", problem, tries: one.tries + 1 });
    } else {
      await outbox.delete(one.n!);
      const known = await entries.get(one.id);
      await entries.put({ id: one.id, entry: one.entry, here: true, ...known, ...(answer.seq === null ? {} : { seq: answer.seq }) });
    }
  }
  await tx.done;
  changed("outbox", "entries");
  if (chosen.every((one) => !told.has(one.id))) throw new Error("The office answered for none of the entries.");
}

/** Entries of this phone that say the wrong day, if its clock was as wrong when they were made as it is known to be now. */
export async function wrongDays(error_s: number): Promise<{ id: string; on: string }[]> {
  if (error_s === 0) return [];
  const db = await open();
  const mine = standing(await db.getAll("entries")).filter(({ here, checked }) => here && !checked);
  return mine.flatMap(({ id, entry }) => {
    if (entry.body.on !== undefined || entry.kind === "site") return [];
    const right = moment(new Date(Date.parse(entry.made_at) - error_s * 1000)).slice(0, 10);
    return right === entry.made_at.slice(0, 10) ? [] : [{ id, on: right }];
  });
}

/** The clock was found right: what was made until now has its right day. */
export async function daysAreRight(): Promise<void> {
  const tx = (await open()).transaction("entries", "readwrite");
  for (let at = await tx.store.openCursor(); at !== null; at = await at.continue())
    if (at.value.here && !at.value.checked) await at.update({ ...at.value, checked: true });
  await tx.done;
}
