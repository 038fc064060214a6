/** What is to be done or closes, and by when: two sentences, the day in the accent where it is within a week. */
import { large, sayDay, t } from "../words";

export const isSoon = (by: string, now = Date.now()): boolean => Date.parse(by) - now < 7 * 86_400_000;

const ended = (text: string): string => (/[.!?…”»]$/.test(text.trim()) ? text.trim() : `${text.trim()}.`);

export function Due({ text, by }: { text: string; by?: string | null | undefined }) {
  return (
    <>
      {ended(text)}{by ? <>{" "}<span class={isSoon(by) ? "soon" : ""}>{large(t("by {day}", { day: sayDay(by) }))}.</span></> : null}
    </>
  );
}
