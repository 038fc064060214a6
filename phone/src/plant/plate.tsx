import type { Data } from "./data";
import { plate } from "./data";

/** A drawing from the plates; `said`: with its own words for who cannot see it, where no text beside it says the same. */
export function Plate({ data, name, state, said = false }: { data: Data; name: string; state: string; said?: boolean }) {
  const found = plate(data, name, state);
  if (!found) return null;
  const about = said ? { role: "img" as const, "aria-label": found.alt } : { "aria-hidden": "true" as const };
  // Our own SVG, from the app's own files.
  return <span class="drawing" {...about} dangerouslySetInnerHTML={{ __html: found.svg }} />;
}
