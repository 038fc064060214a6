/** What was done here: pulled, cut, bagged…, by whom, how many, how long. */
import { useState } from "preact/hooks";
import { useData } from "../plant/data";
import { useBack } from "../plant/screen";
import { href, type ScreenProps } from "../router";
import { ChooseSite } from "../shell/choose";
import { askToKeep } from "../shell/keeping";
import { Count, Key, OneOf } from "../shell/keys";
import { Page } from "../shell/page";
import { Trouble, useSaving } from "../shell/saving";
import { dropDraft, moment, newId, open, readDraft, type DoneBody, type Entry } from "../store";
import { readWalking } from "../walk/walking";
import { useSites } from "../walk/taken";
import { sayDay, t } from "../words";
import { Blocked } from "./blocked";
import { keepAct } from "./keeping";
import { useUnderWay } from "./under_way";

interface Doing {
  id: string;
  site: string;
  what?: DoneBody["what"];
  plants: number;
  people: number;
  /** Quarter hours of all together. */
  quarters: number;
  share?: number;
  survivors?: boolean;
  /** As the field has it: local date and time without a zone. */
  re_entry: string;
  who: string;
  words: string;
  older?: Entry<"done">;
}

const KEY = "done";
const QUARTER_H = 0.25;

async function begin({ site, amends }: ScreenProps["params"]): Promise<Doing> {
  const under = await readDraft<Doing>(KEY);
  if (under?.what && (amends === undefined || under.older?.id === amends)) return under;
  const known = amends === undefined ? undefined : await (await open()).get("entries", amends);
  const fresh: Doing = { id: newId(), site: site ?? (await readWalking())?.site ?? "", plants: 0, people: 1, quarters: 0, re_entry: "", who: "", words: "" };
  if (known?.entry.kind !== "done") return fresh;
  const older = known.entry as Entry<"done">;
  const { what, plants, people, hours, share, survivors, words, re_entry_until } = older.body;
  return {
    ...fresh, site: older.site ?? "", older, what, plants: plants ?? 0, people: people ?? 1, quarters: Math.round((hours ?? 0) / QUARTER_H), words: words ?? "",
    re_entry: re_entry_until?.slice(0, 16) ?? "",
    ...(share === undefined ? {} : { share }), ...(survivors === undefined ? {} : { survivors }),
  };
}

function bodyOf(doing: Doing): DoneBody {
  const { older } = doing;
  const words = [doing.who.trim() && t("By {who}.", { who: doing.who.trim() }), doing.words.trim()].filter(Boolean).join(" ");
  return {
    ...older?.body,
    what: doing.what ?? "other",
    ...(doing.plants > 0 || older?.body.plants !== undefined ? { plants: doing.plants } : {}),
    people: doing.people,
    ...(doing.quarters > 0 || older?.body.hours !== undefined ? { hours: doing.quarters * QUARTER_H } : {}),
    ...(doing.share === undefined ? {} : { share: doing.share }),
    ...(doing.survivors === undefined ? {} : { survivors: doing.survivors }),
    ...(doing.re_entry ? { re_entry_until: moment(new Date(doing.re_entry)) } : {}),
    ...(words ? { words } : {}),
  };
}

export function Screen({ params }: ScreenProps) {
  const saving = useSaving();
  const sites = useSites();
  const data = useData();
  const [doing, change] = useUnderWay(KEY, () => begin(params), saving);
  const [kept, setKept] = useState(false);
  const back = useBack(doing?.site, undefined);
  if (!doing || sites === undefined) return null;
  if (doing.site === "") return <ChooseSite onPick={(site) => change({ site })} />;
  const site = sites.find(({ id }) => id === doing.site);

  if (kept) {
    return (
      <Page title={t("Kept on this phone.")} back={back}
        thumb={
          <>
            <Key href={href("sample", { site: doing.site })}>{t("Take a sample")}</Key>
            <Key main href={back}>{t("Good")}</Key>
          </>
        }>
        {site?.return_on
          ? <p>{t("Come back {day}.", { day: sayDay(site.return_on) })}</p>
          : <p>{t("The office works out when to come back; it stands with the site the next time there is signal.")}</p>}
      </Page>
    );
  }
  const keepIt = () =>
    saving.run(async () => {
      await keepAct({ kind: "done", body: bodyOf(doing), site: doing.site, id: doing.id, older: doing.older, draft: KEY });
      void askToKeep();
      setKept(true);
    });
  const today = data?.say.texts.today;
  const cautions = doing.what === "sprayed" ? ["label", "applicator", "re_entry"] : [...(today?.rules["pull_and_bag"]?.cautions ?? [])];
  return (
    <Page title={doing.older ? t("Correct what was done") : t("What was done here?")} back={back}
      leave={{ text: t("Nothing was done"), onTap: () => dropDraft(KEY).then(() => location.assign(back)) }}
      thumb={<><Trouble saving={saving} /><Key main disabled={!doing.what} onTap={keepIt}>{doing.what ? t("Keep it") : t("Say what was done")}</Key></>}>
      <Blocked site={site} />
      <OneOf legend={t("Done")} columns={3} value={doing.what} onPick={(what) => change({ what })}
        options={[
          { value: "pulled", text: t("Pulled") }, { value: "cut", text: t("Cut") }, { value: "bagged", text: t("Bagged") },
          { value: "mowed", text: t("Mowed") }, { value: "cultivated", text: t("Tilled") }, { value: "sprayed", text: t("Sprayed") },
        ]} />
      {doing.what === "sprayed" ? (
        <label>{t("Nobody enters before (from the label)")}
          <input type="datetime-local" value={doing.re_entry} onInput={({ currentTarget }) => change({ re_entry: currentTarget.value })} />
        </label>
      ) : (
        <Plants plants={doing.plants} onChange={(plants) => change({ plants })} />
      )}
      <Count label={t("People")} value={doing.people} onChange={(people) => change({ people: Math.max(1, people) })} />
      <Count label={t("Hours of all together")} value={doing.quarters * QUARTER_H} step={QUARTER_H} onChange={(hours) => change({ quarters: Math.round(hours / QUARTER_H) })} />
      <OneOf legend={t("How many of the plants were reached?")} columns={2} value={doing.share} onPick={(share) => change({ share })}
        options={[
          { value: 1, text: t("All that we saw") }, { value: 0.9, text: t("Nearly all") }, { value: 0.5, text: t("About half") }, { value: 0.2, text: t("A few") },
        ]} />
      <OneOf legend={t("Are some still alive?")} columns={2} value={doing.survivors} onPick={(survivors) => change({ survivors })}
        options={[{ value: true, text: t("Yes") }, { value: false, text: t("None") }]} />
      <label>{t("Who did it")}
        <input value={doing.who} autocomplete="off" onInput={({ currentTarget }) => change({ who: currentTarget.value })} />
      </label>
      <label>{t("Anything else")}
        <textarea value={doing.words} onInput={({ currentTarget }) => change({ words: currentTarget.value })} />
      </label>
      {today && cautions.length ? (
        <div class="told">
          <b>{t("Take care")}</b>
          <ul>{cautions.map((key) => <li key={key}>{today.cautions[key]}</li>)}</ul>
        </div>
      ) : null}
    </Page>
  );
}

/** Few plants are counted one by one, many in tens. */
function Plants({ plants, onChange }: { plants: number; onChange: (plants: number) => unknown }) {
  return (
    <>
      <Count label={t("Plants")} value={plants} onChange={onChange} />
      <div class="keys three">
        {[10, 50, 100].map((n) => <Key key={n} onTap={() => onChange(plants + n)}>{`+${n}`}</Key>)}
      </div>
    </>
  );
}
