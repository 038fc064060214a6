/** A plant that was kept: what it was taken for, and what may follow from it. */
import { href, type ScreenProps } from "../router";
import { Key } from "../shell/keys";
import { Page } from "../shell/page";
import { open, useLive, type Entry } from "../store";
import { useSites } from "../walk/taken";
import { t } from "../words";
import { useData } from "./data";
import { identify } from "./engine";
import { Result, headline } from "./result";
import { placeOf, useBack } from "./screen";

export function Screen({ params }: ScreenProps) {
  const data = useData();
  const sites = useSites();
  const known = useLive(async () => (await (await open()).get("entries", params["plant"] ?? "")) ?? null, ["entries"], [params["plant"]]);
  const back = useBack(params["site"], params["stop"]);
  if (!data || known === undefined || sites === undefined) return null;
  if (known?.entry.kind !== "plant") return <Page title={t("A plant")} back={back}><p>{t("This plant is not on this phone.")}</p></Page>;
  const entry = known.entry as Entry<"plant">;
  const site = sites.find(({ id }) => id === entry.site);
  const call = identify(data.tables, entry.body.looks, entry.body.stage, placeOf(data, site));
  return (
    <Page title={headline(data, call)} back={back}
      thumb={
        <>
          <div class="keys two">
            <Key href={href("sample", { of: entry.id, site: entry.site })}>{t("Take a sample")}</Key>
            <Key href={href("done", { site: entry.site })}>{t("What was done")}</Key>
          </div>
          <div class="keys two">
            <Key href={href("plant", { amends: entry.id })}>{t("Change an answer")}</Key>
            <Key main href={href("plant", { site: params["site"], stop: params["stop"] })}>{t("Next plant")}</Key>
          </div>
        </>
      }>
      <p class="told">{t("Kept on this phone.")}</p>
      <Result data={data} call={call} site={site} />
    </Page>
  );
}
