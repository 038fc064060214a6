/** An entry as a sentence, for lists. */
import type { Entry, PlantBody, SoundBody, StopBody, WalkBody } from "../store";
import { counted } from "../walk/map";
import { sayLooked, saySize, sayTaxon } from "../walk/sizes";
import { plural, small, t } from "../words";

/** A name of a person or a place keeps its capital; a plant that is not named has none. */
const named = (taxon: string): string => (taxon === "pigweed" ? small(sayTaxon(taxon)) : sayTaxon(taxon));

function stop(body: StopBody): string {
  const total = counted(body);
  const looked = sayLooked(body);
  if (total === 0) return t("Stop: none seen on {looked}.", { looked });
  const tallies = body.counts.map(({ taxon, size, count }) => `${count} × ${named(taxon)} (${small(saySize(size ?? "unknown"))})`);
  return t("Stop: {what} on {looked}.", { what: tallies.join("; "), looked });
}

function walk(body: WalkBody): string {
  const found = body.found === undefined ? t("not counted") : body.found === 0 ? t("none seen") : plural("{n} plant found", "{n} plants found", body.found);
  return plural("Walk of {n} minute: {found}.", "Walk of {n} minutes: {found}.", Math.round(body.minutes ?? 0), { found });
}

export const lasting = (seconds: number): string =>
  plural("A voice note of {n} second.", "A voice note of {n} seconds.", Math.max(1, Math.round(seconds)));

export function say(entry: Entry): string {
  const said = saidOf(entry);
  const words = entry.body.words;
  return words && entry.kind !== "note" && entry.kind !== "report" ? `${said} “${words}”` : said;
}

function saidOf({ kind, body }: Entry): string {
  switch (kind) {
    case "stop": return stop(body as StopBody);
    case "walk": return walk(body as WalkBody);
    case "plant": {
      const looks = Object.keys((body as PlantBody).looks).length;
      return plural("A plant, {n} look.", "A plant, {n} looks.", looks);
    }
    case "photo": return t("A photo.");
    case "sound": return lasting((body as SoundBody).seconds ?? 1);
    case "site": return t("A new place: {name}.", { name: (body as { name: string }).name });
    case "report": return t("A call: “{words}”", { words: body.words ?? "" });
    case "note": return body.words ?? "";
    case "done": return t("Done here.");
    case "sample": return t("A sample.");
    case "withdraw": return t("Taken back.");
    default: return t("Written by the office ({kind}).", { kind });
  }
}
