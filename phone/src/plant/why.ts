// What spoke for and against: each look's push between the two leading names, and for what leads against all else.
import { identify, type Call } from "./engine.ts";
import { counted, logLook, weights, type Counted } from "./evidence.ts";
import { CANNOT_TELL, sum, type Answer, type Tables } from "./tables.ts";

export interface Push {
  look: Counted;
  toward: string;
  against: string;
  logOdds: number;
}

/** By how much each look moved the log odds of the leading name against the nearest other taxon, strongest first. */
export function pushes(tables: Tables, call: Call): Push[] {
  const [first, second] = rivals(tables, call.posterior);
  const looks = counted(tables, call.asked.looks);
  const heavy = weights(tables, looks, call.stage);
  const [one, other] = [tables.names[first] ?? "", tables.names[second] ?? ""];
  return looks
    .map((look, at): Push => {
      const row = logLook(tables, look, heavy[at] ?? 0, call.stage, call.asked);
      const push = (row[first] ?? 0) - (row[second] ?? 0);
      return { look, logOdds: Math.abs(push), ...(push >= 0 ? { toward: one, against: other } : { toward: other, against: one }) };
    })
    .sort((a, b) => b.logOdds - a.logOdds);
}

/** A cross of the leading taxon, or `other`, is no rival that a person would want to hear about: the next taxon is. */
function rivals(tables: Tables, p: readonly number[]): [number, number] {
  const order = tables.names.map((_, k) => k).sort((a, b) => (p[b] ?? 0) - (p[a] ?? 0) || a - b);
  const first = order[0] ?? 0;
  const parents = (tables.names[first] ?? "").split("x");
  const second = order.slice(1).find((k) => k < tables.taxa && !parents.includes(tables.names[k] ?? ""));
  return [first, second ?? order[1] ?? 0];
}

export interface Speaks {
  name: string;
  answer: Answer | readonly Answer[];
  /** By what factor the odds of what leads against all else are greater with this look than without it. */
  times: number;
}

/** Each look against all the others: what leads is the likeliest name, or the group that nobody can tell apart. */
export function speaks(tables: Tables, call: Call, leading: readonly string[]): Speaks[] {
  const odds = (p: readonly number[]): number => {
    const whole = sum(leading.map((code) => p[tables.names.indexOf(code)] ?? 0));
    const held = Math.min(Math.max(whole, 1e-12), 1 - 1e-12);
    return held / (1 - held);
  };
  const now = odds(call.posterior);
  const given = call.asked.stage;
  return Object.entries(call.asked.looks)
    .filter(([, answer]) => answer !== CANNOT_TELL)
    .map(([name, answer]) => {
      const rest = Object.fromEntries(Object.entries(call.asked.looks).filter(([other]) => other !== name));
      return { name, answer, times: now / odds(identify(tables, rest, given, { priors: call.asked.priors }).posterior) };
    })
    .sort((a, b) => b.times - a.times);
}
