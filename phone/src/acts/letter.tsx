/** The letters of a site, as the few lines of text that the record keeps of them. */
import { href, type ScreenProps } from "../router";
import { Page } from "../shell/page";
import { ofSite, useLive } from "../store";
import { useSites } from "../walk/taken";
import { sayDay, t } from "../words";

/** A letter is the office's to write: the phone only reads it. */
interface LetterBody {
  to?: string;
  signed_by?: string;
  as_of?: string;
  text?: string;
}

export function Screen({ params }: ScreenProps) {
  const id = params["site"] ?? "";
  const sites = useSites();
  const letters = useLive(async () => (await ofSite(id)).filter(({ entry }) => (entry.kind as string) === "letter").reverse(), ["entries"], [id]);
  if (letters === undefined || sites === undefined) return null;
  const name = sites.find((one) => one.id === id)?.name ?? id;
  return (
    <Page title={t("Letters about {site}", { site: name })} back={href("site", { site: id })}>
      {letters.length === 0 ? <p>{t("No letter has been written yet, or none has been taken along.")}</p> : null}
      {letters.map(({ entry }) => {
        const body = entry.body as unknown as LetterBody;
        const day = sayDay(body.as_of ?? entry.made_at);
        return (
          <article key={entry.id}>
            <h2>{body.to ? t("{day}, to {who}", { day, who: body.to }) : day}</h2>
            {(body.text ?? t("Its words are with the office.")).split(/\n+/).map((line) => <p key={line}>{line}</p>)}
            {body.signed_by ? <p class="faint">{t("Signed by {who}", { who: body.signed_by })}</p> : null}
          </article>
        );
      })}
    </Page>
  );
}
