/** A call taken standing at the pickup: who, what was said, where, by when an answer. */
import { go, type ScreenProps } from "../router";
import { askToKeep } from "../shell/keeping";
import { Key, OneOf } from "../shell/keys";
import { Page, home } from "../shell/page";
import { Trouble, useSaving } from "../shell/saving";
import { clockError, day, dropDraft, newId, readDraft, type ReportBody } from "../store";
import { useHere } from "../walk/place";
import { useSites } from "../walk/taken";
import { distance, sayDay, t } from "../words";
import { keepAct } from "./keeping";
import { useUnderWay } from "./under_way";

interface Taking {
  id: string;
  how: ReportBody["how"];
  who: string;
  words: string;
  site: string;
  where: string;
  at?: NonNullable<NonNullable<ReportBody["place"]>["point"]>;
  error_m?: number;
  answer_by: string;
}

const KEY = "report";

async function begin(): Promise<Taking> {
  return (await readDraft<Taking>(KEY)) ?? { id: newId(), how: "call", who: "", words: "", site: "", where: "", answer_by: "" };
}

const inDays = (n: number): string => day(new Date(Date.now() - clockError() * 1000 + n * 86_400_000));

function bodyOf(call: Taking): ReportBody {
  const place = {
    ...(call.where.trim() ? { words: call.where.trim() } : {}),
    ...(call.at === undefined ? {} : { point: call.at }),
    ...(call.at === undefined || !call.error_m ? {} : { error_m: Math.round(call.error_m * 10) / 10 }),
  };
  return {
    how: call.how,
    words: call.words.trim(),
    ...(call.who.trim() ? { who: call.who.trim().replace(/\s+/g, " ") } : {}),
    ...(Object.keys(place).length ? { place } : {}),
    ...(call.answer_by ? { answer_by: call.answer_by } : {}),
  };
}

export function Screen(_: ScreenProps) {
  const saving = useSaving();
  const sites = useSites();
  const { here } = useHere();
  const [call, change] = useUnderWay(KEY, begin, saving);
  if (!call || sites === undefined) return null;
  const keepIt = () =>
    saving.run(async () => {
      await keepAct({ kind: "report", body: bodyOf(call), site: call.site || undefined, id: call.id, draft: KEY });
      void askToKeep();
      go("today", {}, true);
    });
  return (
    <Page title={t("Take a call")} back={home}
      leave={{ text: t("No call"), onTap: () => dropDraft(KEY).then(() => location.assign(home)) }}
      thumb={<><Trouble saving={saving} /><Key main disabled={!call.words.trim()} onTap={keepIt}>{call.words.trim() ? t("Keep it") : t("Write what was said")}</Key></>}>
      <label>{t("What they said, in their words")}
        <textarea value={call.words} onInput={({ currentTarget }) => change({ words: currentTarget.value })} />
      </label>
      <label>{t("Who")}
        <input value={call.who} autocomplete="off" onInput={({ currentTarget }) => change({ who: currentTarget.value })} />
      </label>
      <OneOf legend={t("How it came")} columns={3} value={call.how} onPick={(how) => change({ how })}
        options={[{ value: "call", text: t("Call") }, { value: "text", text: t("Text") }, { value: "visit", text: t("In person") }]} />
      <label>{t("Where")}
        <input value={call.where} autocomplete="off" placeholder={t("NE quarter of section 12, by the bins")}
          onInput={({ currentTarget }) => change({ where: currentTarget.value })} />
      </label>
      <div class="keys">
        <Key pressed={call.at !== undefined} disabled={here === undefined && call.at === undefined}
          onTap={() => call.at ? change({ at: undefined, error_m: undefined } as unknown as Partial<Taking>) : here && change({ at: here.at, error_m: here.error_m })}>
          {call.at ? t("It is where I stand (tap to undo)") : here ? t("It is where I stand, within {far}", { far: distance(2 * here.error_m) }) : t("The phone does not know where it is")}
        </Key>
      </div>
      <label>{t("Site, if it is known")}
        <select value={call.site} onChange={({ currentTarget }) => change({ site: currentTarget.value })}>
          <option value="">{t("Not known")}</option>
          {sites.map(({ id, name }) => <option key={id} value={id}>{name}</option>)}
        </select>
      </label>
      <OneOf legend={t("Answer promised by")} value={call.answer_by || undefined} onPick={(answer_by) => change({ answer_by: answer_by === call.answer_by ? "" : answer_by })}
        options={[0, 1, 3, 7].map((n) => ({ value: inDays(n), text: n === 0 ? t("Today") : n === 1 ? t("Tomorrow") : sayDay(inDays(n)) }))} />
    </Page>
  );
}
