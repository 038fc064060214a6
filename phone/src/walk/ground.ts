/** Small plane geometry: longitude and latitude to metres round a point, good to a part in a thousand over a few miles. */
import type { Point } from "../store";
import type { Site } from "../sync";

const M_PER_DEGREE = 111_195;

type Rings = Point[][];

/** Metres east and north of `from`. */
export function metres(from: Point, to: Point): [east: number, north: number] {
  const scale = Math.cos(((from[1] + to[1]) / 2) * (Math.PI / 180));
  return [(to[0] - from[0]) * M_PER_DEGREE * scale, (to[1] - from[1]) * M_PER_DEGREE];
}

export const apart = (a: Point, b: Point): number => Math.hypot(...metres(a, b));

function toSegment(p: Point, a: Point, b: Point): number {
  const [ax, ay] = metres(p, a);
  const [bx, by] = metres(p, b);
  const [dx, dy] = [bx - ax, by - ay];
  const long = dx * dx + dy * dy;
  const share = long === 0 ? 0 : Math.min(1, Math.max(0, -(ax * dx + ay * dy) / long));
  return Math.hypot(ax + share * dx, ay + share * dy);
}

function polygons(boundary: NonNullable<Site["boundary"]>): Rings[] {
  return (boundary.type === "Polygon" ? [boundary.coordinates] : boundary.coordinates) as unknown as Rings[];
}

function isInside(p: Point, ring: Point[]): boolean {
  let inside = false;
  for (let i = 0, j = ring.length - 1; i < ring.length; j = i++) {
    const [a, b] = [ring[i]!, ring[j]!];
    if (a[1] > p[1] !== b[1] > p[1] && p[0] < ((b[0] - a[0]) * (p[1] - a[1])) / (b[1] - a[1]) + a[0]) inside = !inside;
  }
  return inside;
}

/** Metres from `p` to a site: 0 inside its boundary; undefined where nothing tells where it lies. */
export function toSite(p: Point, site: Pick<Site, "boundary" | "point">): number | undefined {
  if (site.boundary) {
    let least = Infinity;
    for (const [outer, ...holes] of polygons(site.boundary)) {
      if (outer && isInside(p, outer) && !holes.some((hole) => isInside(p, hole))) return 0;
      for (const ring of [outer ?? [], ...holes])
        for (let i = 1; i < ring.length; i++) least = Math.min(least, toSegment(p, ring[i - 1]!, ring[i]!));
    }
    return least;
  }
  return site.point ? apart(p, site.point) : undefined;
}

/** Fewer points with the same course: none of those left out lies farther than `within` metres from the line (Douglas and Peucker 1973). */
export function thinned(line: Point[], within: number): Point[] {
  const kept = new Set([0, line.length - 1]);
  const stack: [number, number][] = [[0, line.length - 1]];
  for (let part = stack.pop(); part !== undefined; part = stack.pop()) {
    const [from, to] = part;
    let far = within;
    let at = -1;
    for (let i = from + 1; i < to; i++) {
      const off = toSegment(line[i]!, line[from]!, line[to]!);
      if (off > far) [far, at] = [off, i];
    }
    if (at >= 0) {
      kept.add(at);
      stack.push([from, at], [at, to]);
    }
  }
  return line.filter((_, i) => kept.has(i));
}
