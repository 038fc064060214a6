// The golden cases of the compiled tables, and what must hold of any order of answers.
// TEPAL_TABLES names the folder that `tepal plant --compile` wrote.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { identify, type Call } from "../src/plant/engine.ts";
import { CANNOT_TELL, type Answer, type Looks, type Tables } from "../src/plant/tables.ts";

const folder = process.env["TEPAL_TABLES"] ?? "";
const read = (name: string): string => readFileSync(join(folder, name), "utf8");
const tables = JSON.parse(read("tables.json")) as Tables;

interface Case {
  id: number;
  stage: string;
  region: string | null;
  looks: Record<string, Answer | Answer[]>;
  posterior: number[];
  next: string[];
  gain: number[];
  enough: boolean;
}
const cases = read("golden.jsonl").trim().split("\n").map((line) => JSON.parse(line) as Case);

const LEAST_GAIN = 1e-9;
const largest = (one: readonly number[], two: readonly number[]): number => {
  assert.equal(one.length, two.length);
  return one.reduce((most, v, k) => Math.max(most, Math.abs(v - (two[k] ?? NaN))), 0);
};
const told = (call: Call): { name: string; gain: number }[] => call.next.filter(({ gain }) => gain > LEAST_GAIN);

test("500 golden cases: probabilities and gains to 1e-9, order and enough the same", () => {
  assert.equal(cases.length, 500);
  let p = 0;
  let gain = 0;
  for (const wanted of cases) {
    const call = identify(tables, wanted.looks, wanted.stage, { region: wanted.region });
    p = Math.max(p, largest(call.posterior, wanted.posterior));
    assert.deepEqual(told(call).map(({ name }) => name), wanted.next, `case ${wanted.id}`);
    gain = Math.max(gain, largest(told(call).map((look) => look.gain), wanted.gain));
    assert.equal(call.enough, wanted.enough, `case ${wanted.id}`);
  }
  console.log(`largest difference: probability ${p.toExponential(1)}, gain ${gain.toExponential(1)}`);
  assert.ok(p <= 1e-9 && gain <= 1e-9);
});

/** A small generator with a seed (Lehmer's, of Park and Miller 1988), so that a failure can be had again. */
function dice(seed: number): () => number {
  let state = seed;
  return () => (state = (state * 48271) % 2147483647) / 2147483647;
}
function shuffled<T>(items: readonly T[], roll: () => number): T[] {
  const found = [...items];
  for (let i = found.length - 1; i > 0; i -= 1) {
    const j = Math.floor(roll() * (i + 1));
    [found[i], found[j]] = [found[j] as T, found[i] as T];
  }
  return found;
}

test("the order in which questions are answered changes nothing", () => {
  const roll = dice(20260618);
  for (const wanted of cases.filter(({ looks }) => Object.keys(looks).length > 1)) {
    const looks = Object.fromEntries(shuffled(Object.entries(wanted.looks), roll)) as Looks;
    const one = identify(tables, wanted.looks, wanted.stage, { region: wanted.region });
    const two = identify(tables, looks, wanted.stage, { region: wanted.region });
    assert.ok(largest(one.posterior, two.posterior) < 1e-12, `case ${wanted.id}`);
    assert.deepEqual(told(two).map(({ name }) => name), told(one).map(({ name }) => name), `case ${wanted.id}`);
    assert.equal(two.enough, one.enough);
  }
});

test("what is not in the tables is an error and no answer", () => {
  assert.throws(() => identify(tables, { no_such_thing: "x" }, "vegetative"), RangeError);
  assert.throws(() => identify(tables, { watermark: "perhaps" }, "vegetative"), RangeError);
  assert.throws(() => identify(tables, {}, "asleep"), RangeError);
  assert.throws(() => identify({ ...tables, format: 3 }, {}, "vegetative"), RangeError);
  assert.doesNotThrow(() => identify(tables, { watermark: CANNOT_TELL }, "vegetative"));
});
