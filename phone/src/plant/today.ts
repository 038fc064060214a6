// What to do today about one plant: the rules of the letters that need no field, weather or ledger, with their cautions.
import type { Call } from "./engine.ts";
import { counted } from "./evidence.ts";
import { sum, type Tables } from "./tables.ts";
import { fill, listing, nameInWords, type Say } from "./texts.ts";

export interface Today {
  steps: string[];
  cautions: string[];
}

/** The probability that the plant is one of these, or has one of them for a parent. */
export function hunted(tables: Tables, call: Call, codes: readonly string[]): number {
  return sum(call.posterior.filter((_, k) => (tables.names[k] ?? "").split("x").some((code) => codes.includes(code))));
}

/** What to do today; of a plant that nobody has looked at, to look at it. */
export function today(tables: Tables, say: Say, call: Call): Today {
  const told = say.texts.today;
  if (counted(tables, call.asked.looks).length === 0) return { steps: [told.look], cautions: [] };
  const codes = tables.hunted.map((k) => tables.names[k] ?? "");
  const p = hunted(tables, call, codes);
  const likely = codes.filter((code) => hunted(tables, call, [code]) >= told.may_be * p);
  const plants = listing(say.texts, likely.map((code) => nameInWords(say.texts, code)), "or");
  const acts = p >= told.may_be;
  const chosen = acts ? [told.by_stage[call.stage] ?? "", ...(p < told.is ? [told.test] : [])] : [told.look_alike];
  const steps = chosen.map((name) => fill(told.rules[name]?.[say.units] ?? "", { hunted: plants }));
  const carried = new Set(chosen.flatMap((name) => told.rules[name]?.cautions ?? []));
  if (acts) told.hunted_cautions.forEach((key) => carried.add(key));
  return {
    steps: acts ? [fill(told.first, { plants }), ...steps] : steps,
    cautions: Object.entries(told.cautions).filter(([key]) => carried.has(key)).map(([, text]) => text),
  };
}
