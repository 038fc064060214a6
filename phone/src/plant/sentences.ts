// A call in words: what it is and how surely, what would settle it, and what speaks for it. As `tepal plant` says it.
import type { Call } from "./engine.ts";
import { later, type LaterLook } from "./later.ts";
import { about, sureness } from "./numbers.ts";
import { CANNOT_TELL, character, stageOf, sum, type Answer, type Tables } from "./tables.ts";
import { capital, fill, listing, nameInWords, type Say, type Texts } from "./texts.ts";
import { pushes, speaks } from "./why.ts";

/** Below this a name is not worth a word in the sentence; it stands in the figures. */
const WORTH_A_WORD = 0.02;
const STILL = 3;
const CHANCES = 20;

export interface Named {
  codes: string[];
  text: string;
  p: number;
}

export const probability = (tables: Tables, call: Call, codes: readonly string[]): number =>
  sum(codes.map((code) => call.posterior[tables.names.indexOf(code)] ?? 0));

/** Names in words, likeliest first; what cannot be told apart at this stage as one. */
export function ranked(tables: Tables, texts: Texts, call: Call): Named[] {
  const found: Named[] = [];
  const grouped = new Set<string>();
  for (const codes of stageOf(tables, call.stage).inseparable) {
    if (codes.filter((code) => probability(tables, call, [code]) >= WORTH_A_WORD).length < 2) continue;
    const names = listing(texts, codes.map((code) => nameInWords(texts, code)), "or");
    found.push({ codes, text: fill(texts.sentences.group, { names }), p: probability(tables, call, codes) });
    codes.forEach((code) => grouped.add(code));
  }
  tables.names.forEach((name, k) => {
    if (!grouped.has(name)) found.push({ codes: [name], text: nameInWords(texts, name), p: call.posterior[k] ?? 0 });
  });
  return found.sort((a, b) => b.p - a.p);
}

/** What the plant is, as surely as the looks allow and no surer. */
export const sentence = (tables: Tables, say: Say, call: Call): string => said(tables, say, call).join(" ");

/** The same, sentence by sentence: the first says it, the others what else. */
export function said(tables: Tables, say: Say, call: Call): string[] {
  const { texts } = say;
  const names = ranked(tables, texts, call);
  const lead = names[0] as Named;
  if (Object.values(call.asked.looks).every((given) => given === CANNOT_TELL)) {
    return [fill(texts.sentences.nothing, { name: lead.text })];
  }
  if (lead.p < 0.5) {
    const likely = names.slice(0, STILL).filter(({ p }) => p >= WORTH_A_WORD);
    return [fill(texts.sentences.open, { names: alternatives(say, likely) })];
  }
  const parts = [fill(texts.sentences.lead, { name: capital(lead.text), sureness: sureness(texts, lead.p) })];
  const still = names.slice(1).filter(({ p }) => p >= WORTH_A_WORD).slice(0, STILL);
  if (still.length) parts.push(fill(texts.sentences.still, { names: alternatives(say, still) }));
  if (lead.codes.length > 1) parts.push(texts.sentences.before_flower);
  return parts;
}

/** a, b or c; with semicolons where one of them is itself a list. */
function alternatives({ texts, t }: Say, named: readonly Named[]): string {
  const items = named.map(({ text }) => text);
  const nested = named.length > 1 && named.some(({ codes }) => codes.length > 1);
  return nested ? items.join(t("; or ")) : listing(texts, items, "or");
}

/** The look that matters next, or that looking more would not change what to do, and then what would. */
export function settles(tables: Tables, say: Say, call: Call): string {
  const { texts, t } = say;
  const best = call.next[0];
  if (!call.enough && best) {
    const tool = texts.tools[character(tables, best.name).tool] ?? "";
    return fill(texts.sentences.next, { tool, question: texts.characters[best.name]?.question ?? "" });
  }
  const coming = later(tables, call);
  const first = coming.looks[0];
  const parts = [texts.sentences.enough];
  if (coming.laboratory) {
    parts.push(t("The doubt is worth a leaf sample to a laboratory now."));
    if (first) parts.push(t("Without one: {look}.", { look: when(say, first) }));
  } else if (first) {
    parts.push(t("What would: {look}; or a leaf sample to a laboratory now.", { look: when(say, first) }));
  } else if ((ranked(tables, texts, call)[0]?.p ?? 0) < 0.9) {
    parts.push(t("What would: a leaf sample to a laboratory."));
  }
  return parts.join(" ");
}

function when({ texts, t }: Say, { name, stage }: LaterLook): string {
  const look = texts.characters[name]?.label ?? name;
  if (stage === "seedling_2-4_leaf") return t("{look}, when it has two to four leaves", { look });
  if (stage === "vegetative") return t("{look}, when it has more leaves", { look });
  if (stage === "reproductive") return t("{look}, once it flowers", { look });
  return t("{look}, once it has ripe seed", { look });
}

/** What was seen: a state in its plain words, a measurement with its label and unit. */
export function lookInWords(tables: Tables, { texts, t }: Say, name: string, given: Answer | readonly Answer[]): string {
  const told = texts.characters[name];
  const answers = [...new Set([given].flat())] as Answer[];
  if (answers.includes(CANNOT_TELL)) return t("{look}: cannot tell", { look: told?.label ?? name });
  const { states } = character(tables, name);
  const all = [given].flat();
  // So many answers of one leaf are the chances of each.
  if (states && all.length === CHANCES && answers.length > 1) {
    return states
      .filter((state) => answers.includes(state))
      .map((state) => t("{look} ({n} in 100)", { look: told?.states[state] ?? state, n: (100 * all.filter((one) => one === state).length) / CHANCES }))
      .join("; ");
  }
  if (states) return listing(texts, states.filter((state) => answers.includes(state)).map((state) => told?.states[state] ?? state));
  const unit = character(tables, name).unit ?? "";
  const value = Number((sum(answers.map(Number)) / answers.length).toPrecision(6));
  return `${told?.label ?? name} ${value}${unit === "ratio" ? "" : ` ${unit}`}`;
}

/** Look by look, how much it spoke for the leading name against the second. */
export function reasons(tables: Tables, say: Say, call: Call): string[] {
  const { texts, t } = say;
  return pushes(tables, call).map(({ look, toward, against, logOdds }) => {
    const given = call.asked.looks[look.name] ?? "";
    const shown = lookInWords(tables, say, look.name, given);
    if (logOdds < 0.05) return t("{look}: speaks for neither.", { look: shown });
    return t("{look}: {times} times likelier in {one} than in {other}.", {
      look: shown,
      times: about(Math.min(Math.exp(logOdds), 1e6)),
      one: nameInWords(texts, toward),
      other: nameInWords(texts, against),
    });
  });
}

/** A look that moves the odds by less says nothing worth a line. */
const SPEAKS = 1.5;
const MOST_FOR = 3;
const MOST_AGAINST = 2;

/** Looks that speak for what leads against all else, and those that speak against it; strongest first. */
export function forAndAgainst(tables: Tables, say: Say, call: Call): { for: string[]; against: string[] } {
  const leading = ranked(tables, say.texts, call)[0]?.codes ?? [];
  const told = speaks(tables, call, leading);
  const words = (look: (typeof told)[number]): string => lookInWords(tables, say, look.name, look.answer);
  return {
    for: told.filter(({ times }) => times >= SPEAKS).slice(0, MOST_FOR).map(words),
    against: told.filter(({ times }) => times <= 1 / SPEAKS).reverse().slice(0, MOST_AGAINST).map(words),
  };
}
