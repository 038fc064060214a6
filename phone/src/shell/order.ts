/** In which order a day's sites and calls stand: what closes first, then what is nearest; nobody is sent where entry is barred. */
import { type Point, day } from "../store";
import type { CallToAnswer, Site } from "../sync";
import { toSite } from "../walk/ground";
import { isBlocked } from "../walk/taken";

export interface Turn {
  site?: Site;
  call?: CallToAnswer;
  by?: string;
  metres?: number;
  blocked: boolean;
}

const days = (from: string, to: string): number => (Date.parse(to) - Date.parse(from)) / 86_400_000;

/** Past or today, within two days, within a week, later, no day: within one of these the nearest goes first. */
function pressing(by: string | undefined, today: string): number {
  if (by === undefined) return 4;
  const left = days(today, by);
  return left <= 0 ? 0 : left <= 2 ? 1 : left <= 7 ? 2 : 3;
}

export function dueDay(site: Site): string | undefined {
  const all = [site.closes?.on, site.return_on, ...(site.do ?? []).map((one) => one.by)];
  return all.filter((one): one is string => one != null).sort()[0];
}

export function inOrder(sites: Site[], calls: CallToAnswer[], here: Point | undefined, today = day()): Turn[] {
  const byId = new Map(sites.map((site) => [site.id, site]));
  const far = (site: Site | undefined) => (here === undefined || site === undefined ? undefined : toSite(here, site));
  const turns: Turn[] = [
    ...sites.map((site) => made({ site, by: dueDay(site), metres: far(site), blocked: isBlocked(site) })),
    ...calls.map((call) => {
      const site = byId.get(call.site ?? "");
      return made({ call, by: call.answer_by ?? undefined, metres: far(site), blocked: false });
    }),
  ];
  const key = (turn: Turn): [number, number, number, string] => [
    turn.blocked ? 1 : 0,
    pressing(turn.by, today),
    turn.metres ?? 1e9,
    turn.by ?? "9999",
  ];
  return turns.sort((a, b) => {
    const [x, y] = [key(a), key(b)];
    for (let i = 0; i < x.length; i++) if (x[i] !== y[i]) return x[i]! < y[i]! ? -1 : 1;
    return 0;
  });
}

function made(turn: { site?: Site; call?: CallToAnswer; by: string | undefined; metres: number | undefined; blocked: boolean }): Turn {
  const { by, metres, ...rest } = turn;
  return { ...rest, ...(by === undefined ? {} : { by }), ...(metres === undefined ? {} : { metres }) };
}
