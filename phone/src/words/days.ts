/** Days as people say them, in the person's own language, by the phone's own calendar. */
import { settings } from "../store/settings";

const locale = (): string => (settings().language === "es" ? "es-US" : settings().units === "us" ? "en-US" : "en-GB");

/** "Thursday, June 18", with the year where it is not about this one; `text` is YYYY-MM-DD or a moment. */
export function sayDay(text: string): string {
  const at = text.length === 10 ? new Date(`${text}T12:00:00`) : new Date(text);
  const far = Math.abs(at.getTime() - Date.now()) > 300 * 86_400_000;
  return at.toLocaleDateString(locale(), { weekday: "long", month: "long", day: "numeric", ...(far ? { year: "numeric" } : {}) });
}

/** "2:05 PM". */
export function sayTime(text: string): string {
  return new Date(text).toLocaleTimeString(locale(), { hour: "numeric", minute: "2-digit" });
}

/** "Thursday, June 18, 2:05 PM". */
export const sayMoment = (text: string): string => `${sayDay(text)}, ${sayTime(text)}`;
