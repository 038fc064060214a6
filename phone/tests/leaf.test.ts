// Three taps against leaves whose ratio is known: is the error that is told the error that is made?
import assert from "node:assert/strict";
import { test } from "node:test";
import { CSS_PX_PER_MM, lookOf, normal, QUICK_MM, ratio, STEERED_MM, tapError, type Points } from "../src/leaf/ratio.ts";

/** Lehmer's generator of Park and Miller, and normal values by Box and Muller. */
function dice(seed: number): { roll: () => number; gauss: () => number } {
  let state = seed;
  const roll = (): number => (state = (state * 48271) % 2147483647) / 2147483647;
  return { roll, gauss: () => Math.sqrt(-2 * Math.log(roll())) * Math.cos(2 * Math.PI * roll()) };
}

interface Leaf {
  truth: number;
  points: [number, number][];
}

/** A leaf somewhere on a photo of 3000 × 4000, its stalk at an angle to the blade, filling half the screen or more. */
function leaf(roll: () => number, screen: number): Leaf {
  const truth = 0.3 + 1.5 * roll();
  const whole = (0.5 + 0.4 * roll()) * screen;
  const blade = whole / (1 + truth);
  const turn = 2 * Math.PI * roll();
  const bend = turn + (roll() - 0.5);
  const junction: [number, number] = [1500, 2000];
  const foot: [number, number] = [1500 - truth * blade * Math.cos(bend), 2000 - truth * blade * Math.sin(bend)];
  const tip: [number, number] = [1500 + blade * Math.cos(turn), 2000 + blade * Math.sin(turn)];
  return { truth, points: [foot, junction, tip] };
}

for (const [steered, name] of [[false, "quick taps"], [true, "steered taps"]] as const) {
  test(`${name}: nineteen of twenty true ratios lie within two errors`, () => {
    const { roll, gauss } = dice(1776);
    const scale = 390 / 3000;
    const error = tapError(steered, scale);
    const lying = 0.02;
    const tilt = (2.5 * Math.PI) / 180;
    let inside = 0;
    let squares = 0;
    const all = 4000;
    for (let n = 0; n < all; n += 1) {
      const { truth, points } = leaf(roll, 3000);
      const taps = points.map(([x, y]) => ({ x: x + error * gauss(), y: y + error * gauss(), sd: error })) as unknown as Points;
      const found = ratio(taps, 4000);
      assert.ok(found);
      // The photo's own errors, drawn as the formula takes them: neither length quite straight, the camera tilted.
      const whole = (found.petiole_px + found.blade_px) / 2;
      const photo = lying * (gauss() - gauss()) + (2 * tilt * gauss() * Math.cos(2 * Math.PI * roll()) * whole) / 4000;
      const z = (Math.log(found.value) + photo - Math.log(truth)) / (found.sd / found.value);
      inside += Math.abs(z) <= 1.96 ? 1 : 0;
      squares += z * z;
    }
    const [share, spread] = [inside / all, Math.sqrt(squares / all)];
    console.log(`${name}: ${(100 * share).toFixed(1)} % within 1.96 errors, spread ${spread.toFixed(3)}`);
    // Three standard errors of a share of 0.95 in 4000 are 0.010.
    assert.ok(share > 0.935 && share < 0.965, String(share));
    assert.ok(spread > 0.94 && spread < 1.08, String(spread));
  });
}

test("the closed form of a straight leaf with stalk and blade alike", () => {
  const sd = 3;
  const points: Points = [{ x: 0, y: 0, sd }, { x: 100, y: 0, sd }, { x: 200, y: 0, sd }];
  const found = ratio(points, 1e12);
  assert.equal(found?.value, 1);
  // s²(1 + 4 + 1)/P², and two lengths that do not lie quite flat
  assert.ok(Math.abs((found?.sd ?? 0) - Math.sqrt((6 * sd ** 2) / 100 ** 2 + 2 * 0.02 ** 2)) < 1e-12);
  assert.equal(ratio([{ x: 1, y: 1, sd }, { x: 1, y: 1, sd }, { x: 2, y: 2, sd }], 100), null);
});

test("a finger errs less when it is steered, and less on a photo that is shown larger", () => {
  assert.equal(tapError(false, 1), QUICK_MM * CSS_PX_PER_MM);
  assert.equal(tapError(true, 1), STEERED_MM * CSS_PX_PER_MM);
  assert.equal(tapError(true, 0.5), 2 * tapError(true, 1));
});

test("a ratio becomes a number only where it is as good as a ruler's", () => {
  const of = (value: number, sd: number) => ({ value, sd, petiole_px: 1, blade_px: 1 });
  assert.deepEqual(lookOf(of(1.2346, 0.05), "lower", 0.08), { name: "petiole_blade_ratio_lower", value: 1.235 });
  assert.deepEqual(lookOf(of(0.4, 0.03), "upper", 0.1), { name: "petiole_blade_ratio_upper", value: 0.4 });
  assert.equal(lookOf(of(0.4, 0.05), "upper", 0.1), null);
  assert.equal(lookOf(of(0.4, 0.05), "mid", 0.1), null);
  assert.deepEqual(lookOf(of(2, 0.3), "lower", 0.08), { name: "fold_test_lower_leaf", value: "longer" });
  const spread = lookOf(of(1, 0.2), "lower", 0.08);
  assert.ok(Array.isArray(spread?.value));
  const share = (state: string): number => (spread?.value as string[]).filter((one) => one === state).length / 20;
  for (const [state, p] of [["shorter", 0.3085], ["about_equal", 0.3829], ["longer", 0.3085]] as const) {
    assert.ok(Math.abs(share(state) - p) <= 0.05, state);
  }
});

test("the normal distribution is that of the tables", () => {
  for (const [z, p] of [[0, 0.5], [1, 0.8413447], [1.959964, 0.975], [-2.5, 0.0062097]] as const) {
    assert.ok(Math.abs(normal(z) - p) < 1e-6);
  }
});
