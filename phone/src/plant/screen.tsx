/** A plant: one question at a time until looking more would not change what to do. Everything shown follows from the draft. */
import { useMemo, useState } from "preact/hooks";
import { Blocked } from "../acts/blocked";
import { ThreePoints } from "../leaf/points";
import type { WhichLeaf } from "../leaf/ratio";
import { go, href, type ScreenProps } from "../router";
import { ChooseSite } from "../shell/choose";
import { askToKeep } from "../shell/keeping";
import { Count, Key, buzz } from "../shell/keys";
import { Page } from "../shell/page";
import { Trouble, useSaving } from "../shell/saving";
import type { Site } from "../sync";
import { useHere } from "../walk/place";
import { useSites } from "../walk/taken";
import { readWalking } from "../walk/walking";
import { useLive } from "../store";
import { distance, t } from "../words";
import { useData, type Data } from "./data";
import { drop, finish, usePlant, type Draft } from "./draft";
import type { Place } from "./engine";
import { Camera, refusal, Small, takeIn } from "./photos";
import { Plate } from "./plate";
import { priorOf } from "./prior";
import { asks, States, toolNote, Typed } from "./question";
import { headline, Result } from "./result";
import { lookInWords } from "./sentences";
import { answer, call, canGoOn, further, next, questionOf, STAGE, without, type Question } from "./session";
import { CANNOT_TELL, type Answer } from "./tables";
import { capital } from "./texts";

export function Screen({ params }: ScreenProps) {
  const data = useData();
  if (data === undefined) return null;
  if (data !== null) return <Plant data={data} params={params} />;
  return (
    <Page title={t("A plant")} back={href("today")}>
      <p>{t("The drawings and tables are not on this phone yet. Open the app once where there is signal.")}</p>
    </Page>
  );
}

/** Where a plant was begun from: its stop, the walk, its site. */
export const useBack = (site: string | undefined, stop: string | undefined): string => {
  const walks = useLive(async () => (await readWalking())?.site === site, ["drafts"], [site]);
  if (stop) return href("stop", { site });
  return walks ? href("walk") : site ? href("site", { site }) : href("today");
};

/** The prior of the place where the office reckoned one; else the region's. */
export function placeOf(data: Data, site: Site | undefined): Place {
  const region = site?.region ?? null;
  if (!site?.prior) return { region };
  try {
    return { region, priors: priorOf(data.tables, site.prior) };
  } catch (problem) {
    console.warn("prior of the place", problem);
    return { region };
  }
}

function Plant({ data, params }: { data: Data; params: ScreenProps["params"] }) {
  const saving = useSaving();
  const sites = useSites();
  const { here } = useHere();
  const [draft, change] = usePlant(params, saving);
  const [refused, setRefused] = useState<string | null>(null);
  const back = useBack(draft?.site, draft?.stop);
  const site = sites?.find((one) => one.id === draft?.site);
  const place = useMemo(() => placeOf(data, site), [data, site?.region, JSON.stringify(site?.prior)]);
  const now = useMemo(() => draft && call(data.tables, draft.answered, place), [data, draft?.answered, place]);
  if (!draft || !now || sites === undefined) return null;
  if (draft.site === "") return <ChooseSite onPick={(site) => change({ site })} />;

  const question = draft.editing ? questionOf(data.tables, draft.editing) : next(data.tables, draft.answered, now);
  /** The best fix while one stands here. */
  const where = here && !(draft.error_m !== undefined && draft.error_m <= here.error_m) ? { at: here.at, error_m: here.error_m } : {};
  const save = (by: Partial<Draft>) => change({ ...where, ...by });
  const leave = { text: draft.older ? t("Leave it as it was") : t("Not this plant"), onTap: () => drop(draft).then(() => location.assign(back)) };
  const onAnswer = (name: string) => (given: Answer | Answer[]) =>
    save({ answered: answer(draft.answered, name, given), editing: null, typed: "" });
  const onPhoto = (file: File, leaf: WhichLeaf | null, measure: boolean) => {
    const no = refusal(file);
    setRefused(no);
    if (no !== null) return;
    void saving.run(async () => {
      const taken = await takeIn(file);
      const photos = draft.photos.some(({ sha256 }) => sha256 === taken.sha256) ? draft.photos : [...draft.photos, taken];
      await save({ photos, ...(measure ? { measuring: { photo: taken.sha256, leaf, points: [] } } : {}) });
    });
  };
  const trouble = <>{refused ? <p class="told" role="alert">{refused}</p> : null}<Trouble saving={saving} /></>;

  if (draft.measuring) {
    return <ThreePoints data={data} draft={draft} onChange={save} saving={saving} />;
  }
  const said = <Said data={data} draft={draft} onEdit={(name) => save({ editing: name, typed: "" })} />;
  const photos = <Photos draft={draft} onMeasure={(photo) => save({ measuring: { photo, leaf: null, points: [] } })} />;

  if (question) {
    const given = question.character === STAGE ? (draft.answered.stage ?? undefined) : Object.fromEntries(draft.answered.looks)[question.character];
    const leaf = leafOf(question);
    const ends = <Ends draft={draft} question={question} save={save} />;
    return (
      <Page title={asks(data, question.character)} back={back} leave={leave}
        thumb={
          <>
            {trouble}
            {question.states.length ? (
              <div class="keys two">
                {ends}
                <Key onTap={() => onAnswer(question.character)(CANNOT_TELL)}>{t("I cannot tell")}</Key>
              </div>
            ) : (
              <Typed data={data} question={question} typed={draft.typed} inches={draft.inches} onType={save} onAnswer={onAnswer(question.character)} />
            )}
          </>
        }>
        <Blocked site={site} />
        <Lacks question={question} draft={draft} save={save} />
        {question.states.length
          ? <States data={data} question={question} given={given} onAnswer={onAnswer(question.character)} />
          : <div class="to_measure"><Plate data={data} name={question.character} state="usual" said /></div>}
        {leaf ? <Camera text={t("Measure it on a photo")} onTaken={(file) => onPhoto(file, leaf, true)} /> : null}
        {question.states.length ? null : ends}
        {said}
        {photos}
        <Camera text={t("Take a photo")} onTaken={(file) => onPhoto(file, null, false)} />
      </Page>
    );
  }
  const keepIt = () =>
    saving.run(async () => {
      const plant = await finish(draft);
      buzz();
      void askToKeep();
      go("looked", { plant: plant.id, site: draft.site, stop: draft.stop }, true);
    });
  return (
    <Page title={headline(data, now)} back={back} leave={leave}
      thumb={
        <>
          {trouble}
          <div class="keys two">
            {canGoOn(data.tables, draft.answered, now)
              ? <Key onTap={() => save({ answered: further(draft.answered) })}>{t("One more look")}</Key>
              : null}
            <Camera text={t("Take a photo")} onTaken={(file) => onPhoto(file, null, false)} />
          </div>
          <Key main onTap={keepIt}>{draft.older ? t("Keep the correction") : t("Keep this plant")}</Key>
        </>
      }>
      <Blocked site={site} />
      <Result data={data} call={now} site={site} />
      {said}
      {photos}
      <Count label={t("Plants just like this one")} value={draft.count} onChange={(count) => save({ count: Math.max(1, count) })} />
      <p class="faint">{whereWords(draft)}</p>
    </Page>
  );
}

function whereWords(draft: Draft): string {
  if (draft.at === undefined) return t("The phone does not know where this plant stands.");
  return t("Place within {far}", { far: distance(2 * (draft.error_m ?? 0)) });
}

/** Which leaf a question about petioles is about; null for every other question. */
function leafOf({ character }: Question): WhichLeaf | null {
  const found = /^petiole_blade_ratio_(lower|mid|upper)$/.exec(character)?.[1];
  if (found) return found as WhichLeaf;
  return character === "fold_test_lower_leaf" ? "lower" : null;
}

type Save = (by: Partial<Draft>) => Promise<void>;

function Ends({ draft, question, save }: { draft: Draft; question: Question; save: Save }) {
  if (!draft.editing) return <Key onTap={() => save({ answered: { ...draft.answered, stopped: true } })}>{t("What is it so far?")}</Key>;
  return (
    <Key onTap={() => save({ answered: without(draft.answered, question.character), editing: null, typed: "" })}>
      {t("Take it back")}
    </Key>
  );
}

/** What the look needs, and a way on for who has not got it. */
function Lacks({ question, draft, save }: { question: Question; draft: Draft; save: Save }) {
  const { tool } = question;
  const note = toolNote(tool);
  if (!note) return null;
  const lack = () => save({ answered: { ...draft.answered, missing: [...draft.answered.missing, tool] }, editing: null, typed: "" });
  return (
    <div class="tool">
      <span>{note}</span>
      {tool === "pulled_plant" ? null : <Key onTap={lack}>{tool === "ruler" ? t("I have no ruler") : t("I have no hand lens")}</Key>}
    </div>
  );
}

/** What was answered; each is one tap away from being changed. */
function Said({ data, draft, onEdit }: { data: Data; draft: Draft; onEdit: (name: string) => unknown }) {
  const { stage, looks } = draft.answered;
  if (stage === null) return null;
  const stageWords = stage === "unknown" ? t("Stage: cannot tell") : (data.say.texts.stages[stage] ?? stage);
  return (
    <section>
      <h2>{t("What you said")}</h2>
      <ul class="lines said">
        <li><button type="button" onClick={() => onEdit(STAGE)}>{stageWords} <u class="faint">{t("change")}</u></button></li>
        {looks.map(([name, given]) => (
          <li key={name}>
            <button type="button" onClick={() => onEdit(name)}>{capital(lookInWords(data.tables, data.say, name, given))} <u class="faint">{t("change")}</u></button>
          </li>
        ))}
      </ul>
    </section>
  );
}

interface PhotosProps {
  draft: Draft;
  onMeasure: (sha: string) => unknown;
}

function Photos({ draft, onMeasure }: PhotosProps) {
  return (
    <section class="photos">
      {draft.photos.length ? <h2>{t("Photos")}</h2> : null}
      {draft.photos.map(({ sha256 }, at) => (
        <div key={sha256}>
          <Small sha={sha256} at={at + 1} />
          <div>
            {draft.measured[sha256] ? <p>{draft.measured[sha256]}</p> : null}
            <Key onTap={() => onMeasure(sha256)}>{t("Measure a leaf on it")}</Key>
          </div>
        </div>
      ))}
    </section>
  );
}
