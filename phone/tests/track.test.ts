/** The track against closed forms and a plain twin: what noise is taken out, what a gap is, how small a long walk gets. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { apart, metres, thinned, toSite } from "../src/walk/ground.ts";
import { gaps, lines, metresWalked, pieces, sd, smoothed, trackOf } from "../src/walk/track.ts";

type Point = [number, number];
const HOME: Point = [-96.1, 41.2];
const M = 1 / 111_195;
const at = (east: number, north: number): Point => [HOME[0] + (east * M) / Math.cos((41.2 * Math.PI) / 180), HOME[1] + north * M];

/** Numbers that look random and are the same each time (mulberry32), normal by Box and Muller. */
function normals(seed: number): () => number {
  let a = seed;
  const uniform = () => {
    a = (a + 0x6d2b79f5) | 0;
    let t = Math.imul(a ^ (a >>> 15), 1 | a);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
  return () => Math.sqrt(-2 * Math.log(1 - uniform())) * Math.cos(2 * Math.PI * uniform());
}

function walk(seconds: number, noise: number, skip: (t: number) => boolean = () => false) {
  const normal = normals(7);
  const fixes = [];
  for (let t = 0; t <= seconds; t++)
    if (!skip(t))
      fixes.push({ walk: "w", t: t * 1000, at: at(1.2 * t + noise * normal(), noise * normal()), error_m: Math.max(1, noise), gap: t === 0 });
  return fixes;
}

test("metres agree with the haversine formula over two miles", () => {
  const haversine = (a: Point, b: Point) => {
    const r = Math.PI / 180;
    const h = Math.sin(((b[1] - a[1]) * r) / 2) ** 2 + Math.cos(a[1] * r) * Math.cos(b[1] * r) * Math.sin(((b[0] - a[0]) * r) / 2) ** 2;
    return 2 * 6_371_008.8 * Math.asin(Math.sqrt(h));
  };
  for (const to of [at(3000, 0), at(0, 3000), at(-2000, 1500), at(5, -3)])
    assert.ok(Math.abs(apart(HOME, to) / haversine(HOME, to) - 1) < 1e-3);
});

test("a site is 0 m away inside, its hole is not inside, outside counts from the nearest line", () => {
  const ring = (half: number): Point[] => [at(-half, -half), at(half, -half), at(half, half), at(-half, half), at(-half, -half)];
  const site = { boundary: { type: "Polygon" as const, coordinates: [ring(100), ring(10)] } };
  assert.equal(toSite(at(50, 50), site), 0);
  assert.ok(Math.abs(toSite(HOME, site)! - 10) < 0.1);
  assert.ok(Math.abs(toSite(at(130, 0), site)! - 30) < 0.1);
  assert.ok(Math.abs(toSite(at(103, 104), site)! - 5) < 0.1);
  assert.equal(toSite(HOME, {}), undefined);
});

test("thinning leaves no point farther from the line than it says", () => {
  const normal = normals(3);
  const line = Array.from({ length: 400 }, (_, i) => at(i, 20 * Math.sin(i / 30) + normal()));
  const thin = thinned(line, 2);
  assert.ok(thin.length < line.length / 4);
  const off = (p: Point) =>
    Math.min(...thin.slice(1).map((b, i) => {
      const [ax, ay] = metres(p, thin[i]!);
      const [bx, by] = metres(p, b);
      const [dx, dy] = [bx - ax, by - ay];
      const s = Math.min(1, Math.max(0, -(ax * dx + ay * dy) / (dx * dx + dy * dy)));
      return Math.hypot(ax + s * dx, ay + s * dy);
    }));
  assert.ok(Math.max(...line.map(off)) <= 2.001);
});

test("independent noise shrinks as the root of the window says", () => {
  const fixes = walk(600, 6);
  const across = (points: Point[]) => Math.sqrt(points.reduce((sum, p) => sum + metres(HOME, p)[1] ** 2, 0) / points.length);
  const before = across(fixes.map((fix) => fix.at as Point));
  const after = across(smoothed(fixes as never));
  // Nine fixes in ±4 s: sd / 3.
  assert.ok(Math.abs(after / before - 1 / 3) < 0.08, `${after / before}`);
});

test("the length of a noisy walk is that of the walk, within a tenth", () => {
  assert.ok(Math.abs(metresWalked(walk(600, 0) as never) - 720) < 8);
  assert.ok(Math.abs(metresWalked(walk(600, 4) as never) / 720 - 1) < 0.1);
});

test("a gap is not walked: it parts the line, and says how long it was", () => {
  const fixes = walk(600, 2, (t) => t > 200 && t < 320);
  assert.equal(pieces(fixes as never).length, 2);
  assert.deepEqual(gaps(fixes as never), { number: 1, minutes: 2 });
  assert.equal(trackOf(fixes as never)?.type, "MultiLineString");
  const paused = walk(100, 2).map((fix, i) => ({ ...fix, gap: i === 0 || i === 50 }));
  assert.equal(pieces(paused as never).length, 2);
});

test("a fix that knows nothing is no place", () => {
  const fixes = walk(100, 2).map((fix, i) => (i === 50 ? { ...fix, at: at(5000, 5000), error_m: 400 } : fix));
  assert.ok(lines(fixes as never).flat().every((p) => Math.abs(metres(HOME, p as Point)[1]) < 20));
});

test("a day's walk fits one entry of 64 kB", () => {
  const normal = normals(11);
  const fixes = [];
  for (let t = 0; t < 8 * 3600; t++) fixes.push({ walk: "w", t: t * 1000, at: at(200 * Math.sin(t / 300) + 3 * normal(), (t / 8) % 400), error_m: 3, gap: t === 0 });
  assert.ok(JSON.stringify(trackOf(fixes as never)).length < 60_000);
});

test("an empty walk has no track; one fix is no line", () => {
  assert.equal(trackOf([]), undefined);
  assert.equal(trackOf(walk(0, 1) as never), undefined);
});

test("the told radius is read as 68 % of a circular normal error", () => {
  // P(r < R) = 1 - exp(-R²/2s²)
  assert.ok(Math.abs(1 - Math.exp(-(10 ** 2) / (2 * sd(10) ** 2)) - 0.68) < 0.005);
});
