/** The one layout: where you came from and what is kept on top, the thumb's keys at the bottom, text between. */
import type { ComponentChildren } from "preact";
import { useEffect } from "preact/hooks";
import { href } from "../router";
import { t } from "../words";
import { Kept } from "./kept";

interface PageProps {
  title: string;
  children: ComponentChildren;
  /** The keys in the thumb's reach. */
  thumb?: ComponentChildren;
  /** Address that "Back" leads to; none on the first screen. */
  back?: string;
  /** In place of "Back", where leaving drops what was begun. */
  leave?: { text: string; onTap: () => unknown };
}

export function Page({ title, children, thumb, back, leave }: PageProps) {
  useEffect(() => {
    document.title = title;
  }, [title]);
  return (
    <div class="page">
      <header>
        {back === undefined ? null : <a href={back}>{t("Back")}</a>}
        {leave === undefined ? null : <button type="button" class="inline" onClick={() => leave.onTap()}>{leave.text}</button>}
        <Kept />
      </header>
      <main>
        <h1>{title}</h1>
        {children}
      </main>
      {thumb === undefined ? null : <footer>{thumb}</footer>}
    </div>
  );
}

export const home = href("today");
