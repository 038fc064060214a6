// What the room itself says of other plants, with priors of places: written by tests/phone/test_plant_engine.py.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { identify, type Call } from "../src/plant/engine.ts";
import { later } from "../src/plant/later.ts";
import { chance } from "../src/plant/numbers.ts";
import { priorOf } from "../src/plant/prior.ts";
import { lookInWords, reasons, sentence, settles } from "../src/plant/sentences.ts";
import { answer, call, next, NOTHING, STAGE, without, type Answered } from "../src/plant/session.ts";
import { CANNOT_TELL, type Answer, type Tables } from "../src/plant/tables.ts";
import { fill, type Say, type Texts } from "../src/plant/texts.ts";
import { today } from "../src/plant/today.ts";
import { pushes } from "../src/plant/why.ts";

const folder = process.env["TEPAL_TABLES"] ?? "";
const read = (name: string): string => readFileSync(join(folder, name), "utf8");
const tables = JSON.parse(read("tables.json")) as Tables;
const texts = { en: JSON.parse(read("texts.en.json")) as Texts, es: JSON.parse(read("texts.es.json")) as Texts };
const spanish = (JSON.parse(read("spanish.jsonl")) as { messages: Record<string, string> }).messages;

interface Case {
  stage: string;
  region: string | null;
  looks: Record<string, Answer | Answer[]>;
  language: "en" | "es";
  units: "us" | "metric";
  weights: Record<string, number> | null;
  posterior: number[];
  enough: boolean;
  later: [string, string, number, number][];
  laboratory: boolean;
  sentence: string;
  settles: string;
  pushes: [string, string, string, number][];
  seen: Record<string, string>;
  steps: string[];
  cautions: string[];
  answers: Record<string, Answer>;
  question: string | null;
  chances: [number, string][];
}
const cases = read("more.jsonl").trim().split("\n").map((line) => JSON.parse(line) as Case);

const place = ({ region, weights }: Case) => ({ region, priors: weights ? priorOf(tables, weights) : undefined });
const of = (one: Case): Call => identify(tables, one.looks, one.stage, place(one));
const say = ({ language, units }: Case): Say => ({
  texts: texts[language],
  units,
  t: (message, values = {}) => fill((language === "es" ? spanish[message] : undefined) ?? message, values),
});
const near = (one: number, two: number): boolean => Math.abs(one - two) <= 1e-9;

test("with a prior of the place the probabilities are the room's", () => {
  for (const one of cases) {
    const now = of(one);
    assert.ok(now.posterior.every((p, k) => near(p, one.posterior[k] ?? NaN)), JSON.stringify(one.weights));
    assert.equal(now.enough, one.enough);
  }
});

test("a prior sums to one at every stage, and weights that are none are an error", () => {
  for (const { weights } of cases) {
    if (!weights) continue;
    for (const prior of Object.values(priorOf(tables, weights))) {
      assert.ok(near(prior.reduce((a, b) => a + b, 0), 1));
    }
  }
  assert.throws(() => priorOf(tables, {}), RangeError);
  assert.throws(() => priorOf(tables, { AMAPA: 0 }), RangeError);
  assert.throws(() => priorOf(tables, { AMAPA: -1, AMATU: 2 }), RangeError);
  assert.throws(() => priorOf(tables, { WEED: 1 }), RangeError);
});

test("what would still change it is the same", () => {
  for (const one of cases) {
    const found = later(tables, of(one));
    assert.equal(found.laboratory, one.laboratory);
    assert.deepEqual(found.looks.map(({ name, stage }) => [name, stage]), one.later.map(([name, stage]) => [name, stage]));
    found.looks.forEach((look, at) => {
      assert.ok(near(look.gain, one.later[at]?.[2] ?? NaN) && near(look.chance, one.later[at]?.[3] ?? NaN));
    });
  }
});

test("the same words, in both languages", () => {
  for (const one of cases) {
    const now = of(one);
    assert.equal(sentence(tables, say(one), now), one.sentence);
    assert.equal(settles(tables, say(one), now), one.settles);
    const pushed = new Map(pushes(tables, now).map((push) => [push.look.name, push]));
    assert.equal(reasons(tables, say(one), now).length, one.pushes.length);
    for (const [name, toward, against, logOdds] of one.pushes) {
      const push = pushed.get(name);
      assert.ok(push && near(push.logOdds, logOdds), name);
      if (logOdds > 1e-9) assert.deepEqual([push.toward, push.against], [toward, against]);
      const shown = lookInWords(tables, say(one), name, one.looks[name] ?? "");
      assert.equal(shown.replace(/[\d.e+]+/, ""), one.seen[name]?.replace(/[\d.e+]+/, ""));
    }
    assert.deepEqual(today(tables, say(one), now), { steps: one.steps, cautions: one.cautions });
    for (const [p, words] of one.chances) assert.equal(chance(say(one).t, p), words);
  }
});

const given = (stage: string, looks: Record<string, Answer | Answer[]>): Answered => ({
  ...NOTHING, stage, looks: Object.entries(looks),
});

test("the same question comes next as in the guided session", () => {
  for (const one of cases) {
    const answered = given(one.stage, one.answers);
    assert.equal(next(tables, answered, call(tables, answered, place(one)))?.character ?? null, one.question);
  }
});

test("a changed answer is as if it had been given so from the start; one taken back, as if never", () => {
  for (const one of cases) {
    const names = Object.keys(one.looks);
    const name = names[names.length >> 1];
    if (!name) continue;
    const before = given(one.stage, { ...one.looks, [name]: CANNOT_TELL });
    const changed = answer(before, name, one.looks[name] as Answer);
    const [now, plain] = [call(tables, changed, place(one)), of(one)];
    assert.deepEqual(now.posterior, plain.posterior);
    assert.deepEqual(now.next, plain.next);
    const { [name]: _, ...rest } = one.looks;
    assert.deepEqual(
      call(tables, without(changed, name), place(one)).posterior,
      identify(tables, rest, one.stage, place(one)).posterior
    );
    const staged = answer(answer(changed, STAGE, "cotyledon"), STAGE, one.stage);
    assert.deepEqual(call(tables, staged, place(one)).posterior, plain.posterior);
  }
});

test("nothing but the stage is asked first, and a stop ends the asking", () => {
  const now = call(tables, NOTHING, {});
  assert.equal(next(tables, NOTHING, now)?.character, STAGE);
  assert.equal(next(tables, { ...NOTHING, stopped: true }, now), null);
  assert.equal(answer(NOTHING, STAGE, CANNOT_TELL).stage, "unknown");
});
