/**
 * Every sentence goes through `t`: the message is its English, `{name}` is filled in, and a language's own wording
 * comes from the catalogue of the whole house (tools/messages.py writes `es.json` from it). Missing ones are English.
 */
import { settings } from "../store/settings";
import es from "./es.json";

const catalogues: Record<string, Record<string, string | string[]>> = { es };

function found(message: string): string | undefined {
  const own = catalogues[settings().language]?.[message];
  return typeof own === "string" ? own : undefined;
}

function filled(text: string, values: Record<string, string | number>): string {
  return text.replace(/\{(\w+)\}(\.?)/g, (whole, name: string, stop: string) => {
    if (values[name] === undefined) return whole;
    const value = String(values[name]);
    // "7:00 a.m." at the end of a sentence has its stop already.
    return value.endsWith(".") ? value : value + stop;
  });
}

/** Within a sentence, and at its beginning. */
export const small = (text: string): string => text.charAt(0).toLocaleLowerCase() + text.slice(1);
export const large = (text: string): string => text.charAt(0).toLocaleUpperCase() + text.slice(1);

export function t(message: string, values: Record<string, string | number> = {}): string {
  return filled(found(message) ?? message, values);
}

/** One or many: `plural("{n} plant", "{n} plants", n)`. English and Spanish both part one from the rest. */
export function plural(one: string, many: string, n: number, values: Record<string, string | number> = {}): string {
  const own = catalogues[settings().language]?.[one];
  const text = Array.isArray(own) ? own[n === 1 ? 0 : 1] : undefined;
  return filled(text ?? (n === 1 ? one : many), { n, ...values });
}

export * from "./units";
export * from "./days";
