// One plant named from the compiled tables: the same answer as `tepal plant`, to 1e-9, without a network.
import { posterior, type Asked } from "./evidence.ts";
import { isEnough, nextLooks, type Next } from "./next.ts";
import { FORMAT, stageNames, stageOf, type Looks, type Tables } from "./tables.ts";

export interface Call {
  /** Probability by name, in the order of `tables.names`. */
  posterior: number[];
  /** Before any look, averaged over the stages as likely as they are. */
  prior: number[];
  stages: [string, number][];
  /** The stage, or the likeliest where it is not known. */
  stage: string;
  /** Looks that tell something, best first by what they save a second. */
  next: Next[];
  enough: boolean;
  asked: Asked;
}

export interface Place {
  region?: string | null;
  /** A prior of the place by stage, reckoned from its weights (`priorOf`); takes the place of the region's. */
  priors?: Asked["priors"] | undefined;
}

export function identify(tables: Tables, looks: Looks, stage: string, place: Place = {}): Call {
  if (tables.format !== FORMAT) throw new RangeError(`Tables of format ${tables.format} are not known here.`);
  const priors = place.priors ?? regional(tables, place.region ?? null);
  const asked: Asked = { looks, stage, priors };
  const found = posterior(tables, asked);
  const next = nextLooks(tables, found.posterior, looks, found.lead, priors[found.lead] ?? []);
  return {
    posterior: found.posterior,
    prior: tables.names.map((_, k) => found.stages.reduce((all, [at, p]) => all + p * (priors[at]?.[k] ?? 0), 0)),
    stages: found.stages,
    stage: found.lead,
    next,
    enough: isEnough(tables, next),
    asked,
  };
}

function regional(tables: Tables, region: string | null): Record<string, readonly number[]> {
  const found: Record<string, readonly number[]> = {};
  for (const stage of stageNames(tables)) {
    const priors = stageOf(tables, stage).priors;
    found[stage] = priors[region ?? ""] ?? priors[""] ?? [];
  }
  return found;
}
