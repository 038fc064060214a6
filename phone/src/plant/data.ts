/** The tables, texts and drawings that came with the app: files beside it, held by the worker. */
import { useEffect, useState } from "preact/hooks";
import { settings } from "../store/settings";
import { t } from "../words";
import type { Tables } from "./tables";
import { fill, type Say, type Texts } from "./texts";

interface Plates {
  svg: Record<string, Record<string, string>>;
  words: Record<string, Record<string, Record<string, string[]>>>;
}

const files = new Map<string, Promise<unknown>>();

function file<T>(name: string): Promise<T> {
  let found = files.get(name);
  if (!found) {
    found = fetch(new URL(`data/${name}`, document.baseURI)).then((answer) => {
      if (!answer.ok) throw new Error(`${name}: ${answer.status}`);
      return answer.json();
    });
    files.set(name, found);
    // What failed once may be there the next time.
    found.catch(() => files.delete(name));
  }
  return found as Promise<T>;
}

export interface Data {
  tables: Tables;
  say: Say;
  plates: Plates;
}

/** Undefined while they are being read; null where they are not to be had. */
export function useData(): Data | null | undefined {
  const { language, units } = settings();
  const [found, setFound] = useState<Data | null>();
  useEffect(() => {
    Promise.all([file<Tables>("tables.json"), file<Texts>(`texts.${language}.json`), file<Plates>("plates.json")]).then(
      ([tables, texts, plates]) => setFound({ tables, say: { texts, t, units }, plates }),
      (problem: unknown) => {
        console.error(problem);
        setFound(null);
      },
    );
  }, [language, units]);
  return found;
}

/** A drawing with its words, as SVG; undefined where there is none. */
export function plate({ plates, say }: Data, name: string, state: string): { svg: string; alt: string } | undefined {
  const svg = plates.svg[name]?.[state];
  const [alt = "", ...words] = plates.words[say.texts.language]?.[name]?.[state] ?? [];
  return svg === undefined ? undefined : { svg: fill(svg, Object.fromEntries(words.map((word, at) => [at, word]))), alt };
}
