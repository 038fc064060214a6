// The texts beside the compiled tables, in one language; docs/compiled-tables.md tells every key.

export interface TodayTexts {
  may_be: number;
  is: number;
  look: string;
  first: string;
  by_stage: Record<string, string>;
  test: string;
  look_alike: string;
  rules: Record<string, { us: string; metric: string; cautions: string[] }>;
  hunted_cautions: string[];
  cautions: Record<string, string>;
}

export interface Texts {
  language: string;
  names: Record<string, { name: string; scientific: string; others: string[] }>;
  characters: Record<string, { label: string; question: string; states: Record<string, string> }>;
  stages: Record<string, string>;
  regions: Record<string, string>;
  tools: Record<string, string>;
  sureness: [number, string][];
  sentences: Record<
    | "lead" | "still" | "open" | "nothing" | "group" | "before_flower" | "cross" | "other" | "next" | "enough"
    | "list" | "and" | "or",
    string
  >;
  today: TodayTexts;
}

export type T = (message: string, values?: Record<string, string | number>) => string;

/** What a sentence is made with: the tables' texts, and the app's own catalogue. */
export interface Say {
  texts: Texts;
  t: T;
  units: "us" | "metric";
}

export function fill(text: string, values: Record<string, string | number>): string {
  return text.replace(/\{(\w+)\}/g, (whole, name: string) => String(values[name] ?? whole));
}

export function listing(texts: Texts, items: readonly string[], last: "and" | "or" = "and"): string {
  if (items.length < 2) return items.join("");
  const { list } = texts.sentences;
  return fill(list, { some: items.slice(0, -1).join(", "), last: texts.sentences[last], one: items.at(-1) ?? "" });
}

export const capital = (text: string): string => text.slice(0, 1).toUpperCase() + text.slice(1);

/** A taxon's common name, a cross by its parents, or "something else". */
export function nameInWords(texts: Texts, name: string): string {
  if (name === "other") return texts.sentences.other;
  const taxon = texts.names[name];
  // What stands in brackets tells a reader of the table which subspecies are meant, and is no name.
  if (taxon) return taxon.name.split(" (")[0] ?? taxon.name;
  const [first = "", second = ""] = name.split("x").map((code) => nameInWords(texts, code));
  return fill(texts.sentences.cross, { first, second });
}
