/** A sample on its way: what was taken, what is asked, and the label for its bag. */
import { go, href, type ScreenProps } from "../router";
import { ChooseSite } from "../shell/choose";
import { Key, OneOf } from "../shell/keys";
import { Page } from "../shell/page";
import { Trouble, useSaving } from "../shell/saving";
import { dropDraft, newId, open, readDraft, useLive, type Entry, type SampleBody } from "../store";
import { useBack } from "../plant/screen";
import { useSites } from "../walk/taken";
import { sayDay, t } from "../words";
import { Blocked } from "./blocked";
import { keepAct } from "./keeping";
import { code, short } from "./label";
import { useUnderWay } from "./under_way";

interface Sampling {
  id: string;
  site: string;
  of?: string;
  what?: NonNullable<SampleBody["what"]>;
  test?: NonNullable<SampleBody["test"]>;
  laboratory: string;
}

const KEY = "sample";
const LABORATORY = "laboratory";

async function begin({ site, of }: ScreenProps["params"]): Promise<Sampling> {
  const under = await readDraft<Sampling>(KEY);
  if (under?.what && under.of === of) return under;
  const last = (await (await open()).get("settings", LABORATORY))?.value;
  return { id: newId(), site: site ?? "", ...(of === undefined ? {} : { of }), laboratory: typeof last === "string" ? last : "" };
}

export function Screen({ params }: ScreenProps) {
  return params["label"] ? <Label id={params["label"]} site={params["site"]} /> : <Taking params={params} />;
}

function Taking({ params }: ScreenProps) {
  const saving = useSaving();
  const [sample, change] = useUnderWay(KEY, () => begin(params), saving);
  const sites = useSites();
  const back = useBack(sample?.site, undefined);
  if (!sample) return null;
  if (sample.site === "") return <ChooseSite onPick={(site) => change({ site })} />;
  const keepIt = () =>
    saving.run(async () => {
      const laboratory = sample.laboratory.trim();
      const body: SampleBody = {
        step: "made",
        ...(sample.what === undefined ? {} : { what: sample.what }),
        ...(sample.test === undefined ? {} : { test: sample.test }),
        ...(sample.of === undefined ? {} : { of: sample.of }),
        ...(laboratory ? { laboratory } : {}),
      };
      const entry = await keepAct({ kind: "sample", body, site: sample.site, id: sample.id, draft: KEY });
      await (await open()).put("settings", { key: LABORATORY, value: laboratory });
      go("sample", { label: entry.id, site: sample.site }, true);
    });
  return (
    <Page title={t("What is in the bag?")} back={back}
      leave={{ text: t("No sample"), onTap: () => dropDraft(KEY).then(() => location.assign(back)) }}
      thumb={<><Trouble saving={saving} /><Key main disabled={!sample.what || !sample.test} onTap={keepIt}>{t("Keep it and show the label")}</Key></>}>
      <Blocked site={sites?.find(({ id }) => id === sample.site)} />
      <OneOf legend={t("Taken")} value={sample.what} onPick={(what) => change({ what })}
        options={[
          { value: "leaf", text: t("Young leaves") }, { value: "seed", text: t("Seed") },
          { value: "voucher", text: t("A pressed plant") }, { value: "plant", text: t("A whole plant") },
        ]} />
      <OneOf legend={t("What the laboratory is asked")} columns={1} value={sample.test} onPick={(test) => change({ test })}
        options={[{ value: "species", text: t("Which pigweed it is") }, { value: "resistance", text: t("What it withstands") }]} />
      <label>{t("Laboratory")}
        <input value={sample.laboratory} autocomplete="off" onInput={({ currentTarget }) => change({ laboratory: currentTarget.value })} />
      </label>
      {sample.what === "leaf" || sample.what === "seed" ? (
        <p>{t("One plant, one paper bag. Keep it cool and dry; leaves that wilt or mold tell nothing.")}</p>
      ) : null}
      <p>{t("Ask the state's authority before seed or whole plants leave the site.")}</p>
    </Page>
  );
}

function Label({ id, site }: { id: string; site: string | undefined }) {
  const back = useBack(site, undefined);
  const known = useLive(async () => (await (await open()).get("entries", id)) ?? null, ["entries"], [id]);
  if (known === undefined) return null;
  if (known?.entry.kind !== "sample") return <Page title={t("A sample")} back={back}><p>{t("This sample is not on this phone.")}</p></Page>;
  const { body, made_at } = known.entry as Entry<"sample">;
  const { size, path } = code(id);
  return (
    <Page title={t("Write this on the bag")} back={back}
      thumb={
        <div class="keys two">
          <Key href={href("sample", { site, of: body.of })}>{t("Another sample")}</Key>
          <Key main href={back}>{t("It is written")}</Key>
        </div>
      }>
      <p class="label_sign">{short(id)}</p>
      <p>{takenWords(body)} {sayDay(made_at)}. {askedWords(body)}</p>
      <svg class="code" viewBox={`0 0 ${size} ${size}`} role="img" aria-label={t("QR code of this sample")} shape-rendering="crispEdges">
        <rect width={size} height={size} fill="#fff" /><path d={path} fill="#000" />
      </svg>
      <p class="faint">{t("The code and the signs name the sample alone: no site, no person. The laboratory finds it by them.")}</p>
    </Page>
  );
}

function takenWords({ what }: SampleBody): string {
  if (what === "leaf") return t("Young leaves,");
  if (what === "seed") return t("Seed,");
  return what === "voucher" ? t("A pressed plant,") : t("A whole plant,");
}

const askedWords = ({ test }: SampleBody): string =>
  test === "resistance" ? t("Asked: what it withstands.") : t("Asked: which pigweed it is.");
