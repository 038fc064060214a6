/** The office's side of the wire, as docs/rooms/serve.md has it. Every request goes to the server that the app came from. */
import type { Entry, Problem } from "../store";

export interface Site {
  id: string;
  name: string;
  kind: string;
  units?: "us" | "metric";
  boundary?: GeoJSON.Polygon | GeoJSON.MultiPolygon | null;
  point?: [number, number] | null;
  place?: string | null;
  features?: GeoJSON.FeatureCollection | null;
  blocked_until?: string | null;
  blocked_why?: string | null;
  permission?: { given: boolean | null; text: string; by?: string; reach?: string; on?: string } | null;
  sentence?: string | null;
  do?: { text: string; by?: string | null; cautions?: string[] }[];
  closes?: { what: string; on: string } | null;
  return_on?: string | null;
  prior?: Record<string, number> | null;
  region?: string | null;
  aerial?: { url: string; bounds: [number, number, number, number] } | null;
}

export interface CallToAnswer {
  entry: string;
  site?: string | null;
  who?: string | null;
  words: string;
  place?: string | null;
  answer_by?: string | null;
}

export interface TakenAlong {
  server_time: string;
  as_of: string;
  view: string;
  person: { id: string; name: string; role: string };
  sites: Site[];
  calls: CallToAnswer[];
}

export interface Answers {
  server_time: string;
  skew_s: number;
  answers: { id: string; outcome: "added" | "already" | "refused"; seq: number | null; problem: Problem | null }[];
}

export interface Page {
  entries: (Entry & { by?: string; seq?: number })[];
  next: number;
  more: boolean;
  view: string;
  reset: boolean;
  /** By what the place `next` is known again, and whether the office's record came back from a copy since we asked last. */
  mark?: string;
  restored?: boolean;
}

/** The office answered, and it was no. */
export class Refusal extends Error {
  constructor(
    readonly status: number,
    readonly problem: Problem,
  ) {
    super(problem.title);
  }
}

/** Nobody answered: no signal, or no server behind it. */
export class Unreachable extends Error {}

const PATIENCE_MS = 30_000;

// The worker has no document; its own address lies in the same folder.
const base = (): string => (typeof document === "undefined" ? location.href : document.baseURI);
const address = (path: string): URL => new URL(`../${path}`, base());

/** One request; throws `Unreachable`, or `Refusal` for any status that `fine` does not name. */
export async function ask(path: string, init: RequestInit = {}, fine: number[] = [200, 204]): Promise<Response> {
  let answer: Response;
  try {
    answer = await fetch(address(path), {
      ...init,
      cache: "no-store",
      credentials: "same-origin",
      headers: { "Tepal-Request": "1", ...(init.headers as Record<string, string>) },
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
  } catch (cause) {
    throw new Unreachable("no answer", { cause });
  }
  if (fine.includes(answer.status)) return answer;
  // A gateway that answers for a server that is down, or a server that asks for time, is no refusal.
  if (answer.status >= 500 || [408, 425, 429].includes(answer.status)) throw new Unreachable(`status ${answer.status}`);
  throw new Refusal(answer.status, await problemOf(answer));
}

async function problemOf(answer: Response): Promise<Problem> {
  const told: unknown = await answer.json().catch(() => null);
  if (told !== null && typeof told === "object" && "title" in told) return told as Problem;
  return { title: `The office did not take it (${answer.status}).` };
}

export async function json<T>(path: string, init?: RequestInit): Promise<T> {
  const answer = await ask(path, init);
  try {
    return (await answer.json()) as T;
  } catch (cause) {
    // Cut off half-way, or a hotel's login page in the way.
    throw new Unreachable("no JSON", { cause });
  }
}
