// What would still change what to do when looking now would not: a look at a later stage, or a laboratory.
import { type Call } from "./engine.ts";
import { outcomes, risks } from "./next.ts";
import { CANNOT_TELL, character, isAbsent, stageNames, stageOf, sum, type Tables } from "./tables.ts";

/** A look that changes what to do less often than this is not worth waiting for. */
const SELDOM = 0.05;

export interface LaterLook {
  name: string;
  stage: string;
  /** Drop in the expected loss of the best action, in hundredths of a missed hunted plant. */
  gain: number;
  /** How likely it is to change that action. */
  chance: number;
}

export interface Later {
  /** Of the first later stage that has any, best first. */
  looks: LaterLook[];
  /** Whether a sample now is worth its price. */
  laboratory: boolean;
}

export function later(tables: Tables, call: Call): Later {
  const risk = risks(call.posterior, stageOf(tables, call.stage).loss).slice(0, tables.taxa);
  const order = stageNames(tables);
  let looks: LaterLook[] = [];
  for (const stage of order.slice(order.indexOf(call.stage) + 1)) {
    looks = ofStage(tables, call, stage);
    if (looks.length) break;
  }
  return { looks, laboratory: Math.min(...risk) > tables.costs.sample };
}

function ofStage(tables: Tables, call: Call, stage: string): LaterLook[] {
  const { loss, asked } = stageOf(tables, stage);
  const seen = new Set(
    Object.entries(call.asked.looks)
      .filter(([, given]) => [given].flat().some((answer) => answer !== CANNOT_TELL))
      .map(([name]) => name)
  );
  const risk = risks(call.posterior, loss).slice(0, tables.taxa);
  const least = Math.min(...risk);
  const best = risk.indexOf(least);
  const found: LaterLook[] = [];
  for (const name of asked) {
    if (seen.has(name) || isAbsent(tables, name, call.asked.looks)) continue;
    const { rows, known } = outcomes(tables, name, stage, call.prior, 0);
    let after = 0;
    let changes = 0;
    for (const row of rows) {
      const joint = row.map((v, k) => v * (call.posterior[k] ?? 0));
      const then = risks(joint, loss).slice(0, tables.taxa);
      const lowest = Math.min(...then);
      after += lowest;
      if (then.indexOf(lowest) !== best) changes += sum(joint);
    }
    const told = sum(call.posterior.filter((_, k) => known[k]));
    const gain = told * (least - after);
    const chance = told * changes;
    const seconds = character(tables, name).seconds + tables.settings.asking_seconds;
    if (gain > tables.costs.second * seconds && chance >= SELDOM) found.push({ name, stage, gain, chance });
  }
  return found.sort((a, b) => b.gain - a.gain);
}
