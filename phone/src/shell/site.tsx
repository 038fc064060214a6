/** One site: what is known, the one thing to do, then the rest. */
import { type ScreenProps, go, href } from "../router";
import { ofSite, standing, useLive } from "../store";
import type { Site } from "../sync";
import { SiteMap } from "../walk/map";
import { isBlocked, useAerial, useSites } from "../walk/taken";
import { start, useWalking } from "../walk/walking";
import { plural, sayDay, sayMoment, t } from "../words";
import { Due } from "./due";
import { Key, buzz } from "./keys";
import { Page, home } from "./page";

export function Screen({ params }: ScreenProps) {
  const sites = useSites();
  const walking = useWalking();
  const id = params["site"] ?? "";
  const written = useLive(async () => standing(await ofSite(id)).filter(({ entry }) => entry.kind !== "site").length, ["entries"], [id]);
  const site = sites?.find((one) => one.id === id);
  const aerial = useAerial(site);
  if (sites === undefined || walking === undefined) return null;
  if (site === undefined) return <Page title={t("This site is not on the phone")} back={home}><p>{t("The office may have given it to somebody else.")}</p></Page>;
  const blocked = isBlocked(site);
  const steps = toldOnce(site.do ?? []);
  const begin = async () => {
    await start(id);
    buzz();
    go("walk");
  };
  return (
    <Page
      title={site.name}
      back={home}
      thumb={
        <>
          <div class="keys three">
            <Key href={href("stop", { site: id })}>{t("A stop")}</Key>
            <Key href={href("plant", { site: id })}>{t("A plant")}</Key>
            <Key href={href("done", { site: id })}>{t("Done here")}</Key>
          </div>
          {walking !== null ? <Key main href={href("walk")}>{t("Back to the walk")}</Key>
            : blocked ? <Key main disabled>{t("Do not enter")}</Key>
            : <Key main onTap={begin}>{t("Walk it")}</Key>}
        </>
      }
    >
      {blocked ? (
        <div class="told" role="status"><p><strong>{t("Nobody enters before {when}.", { when: sayMoment(site.blocked_until!) })}</strong> {site.blocked_why}</p></div>
      ) : null}
      {site.permission?.given === false ? <div class="told" role="status"><p><strong>{site.permission.text}</strong></p></div> : null}
      {site.sentence ? <p>{site.sentence}</p> : null}
      {site.closes ? (
        <p><Due text={site.closes.what} by={site.closes.on} /></p>
      ) : null}
      {steps.map(({ one, cautions }) => (
        <section key={one.text}>
          <p><b><Due text={one.text} by={one.by} /></b></p>
          {cautions.map((caution) => <p class="caution" key={caution}>{caution}</p>)}
        </section>
      ))}
      {site.return_on ? <p>{t("Come back {day}.", { day: sayDay(site.return_on) })}</p> : null}
      <SiteMap sites={[site]} aerial={aerial} label={t("Map of the site")} />
      {site.place ? <p>{site.place}</p> : null}
      {site.permission && site.permission.given !== false ? <p>{site.permission.text}</p> : null}
      <ul class="lines">
        <li><a href={href("written", { site: id })}>{plural("{n} thing written down here", "{n} things written down here", written ?? 0)}</a></li>
        <li><a href={href("sample", { site: id })}>{t("Take a sample")}</a></li>
        <li><a href={href("letter", { site: id })}>{t("Letters about {site}", { site: site.name })}</a></li>
      </ul>
    </Page>
  );
}

/** Each caution beside the first step that needs it: said five times over it is read by nobody. */
function toldOnce(all: NonNullable<Site["do"]>): { one: NonNullable<Site["do"]>[number]; cautions: string[] }[] {
  const told = new Set<string>();
  return all.map((one) => {
    const cautions = (one.cautions ?? []).filter((caution) => !told.has(caution));
    cautions.forEach((caution) => told.add(caution));
    return { one, cautions };
  });
}
