/** The end of a walk, one question after the other: what was seen, which rows the track missed, what the place is called. */
import { useState } from "preact/hooks";
import { type ScreenProps, go, href } from "../router";
import { askToKeep } from "../shell/keeping";
import { Key, OneOf, buzz } from "../shell/keys";
import { Page } from "../shell/page";
import { Trouble, useSaving } from "../shell/saving";
import { Voices } from "../shell/voice";
import type { SiteBody } from "../store";
import { distance, plural, t } from "../words";
import { counted } from "./map";
import { grounds } from "./place-screen";
import { gaps, metresWalked } from "./track";
import { change, finish, useFixes, useStops, useWalking } from "./walking";

type Seen = "none" | "counted" | "more";

export function Screen(_: ScreenProps) {
  const walking = useWalking();
  const fixes = useFixes(walking?.id);
  const stops = useStops(walking?.id);
  const saving = useSaving();
  const [step, setStep] = useState(0);
  const [seen, setSeen] = useState<Seen>();
  const [words, setWords] = useState("");
  if (walking === undefined || !fixes || !stops) return null;
  if (walking === null) return <Page title={t("No walk is under way")} thumb={<Key main href={href("today")}>{t("Today")}</Key>}><p>{t("What was walked is kept.")}</p></Page>;

  const total = stops.reduce((sum, stop) => sum + counted(stop.body), 0);
  const missing = gaps(fixes);
  const needsRows = missing.number > 0 || fixes.length < 2;
  const steps = ["seen", ...(needsRows ? ["rows"] : []), ...(walking.place ? ["place"] : []), "keep"];
  const now = steps[step];
  const on = () => setStep(step + 1);
  const back = step === 0 ? { back: href("walk") } : { leave: { text: t("Back"), onTap: () => setStep(step - 1) } };

  if (now === "seen")
    return (
      <Page title={t("Did you see pigweeds beside the stops?")} {...back}
        thumb={
          <div class="keys">
            {total === 0 ? null : <Key onTap={() => { setSeen("more"); on(); }}>{t("Yes, more than I counted")}</Key>}
            {total === 0 ? <Key onTap={() => { setSeen("more"); on(); }}>{t("Yes, but not counted")}</Key> : null}
            <Key main onTap={() => { setSeen(total === 0 ? "none" : "counted"); on(); }}>
              {total === 0 ? t("None on the whole walk") : plural("No, only the {n} that I counted", "No, only the {n} that I counted", total)}
            </Key>
          </div>
        }>
        <p>{plural("{n} stop", "{n} stops", stops.length)}, {plural("{n} plant counted", "{n} plants counted", total)}. {t("{far} walked.", { far: distance(metresWalked(fixes)) })}</p>
        <p>{t("\"None\" is worth as much as a find: it tells how sure one may be that there are none.")}</p>
      </Page>
    );
  if (now === "rows")
    return (
      <Page title={t("Which rows did you walk without the track?")} {...back} thumb={<Key main onTap={on}>{walking.rows ? t("Good") : t("None, or I do not know")}</Key>}>
        <Trouble saving={saving} />
        <p>{fixes.length < 2
          ? t("There is no track of this walk.")
          : plural("The track has a gap of {n} minute in all.", "The track has gaps of {n} minutes in all.", missing.minutes)}</p>
        <label>{t("In your words, for example: every tenth row from the gate to the creek")}
          <textarea value={walking.rows ?? ""} onInput={(event) => { const rows = event.currentTarget.value; void saving.run(() => change({ rows })); }} />
        </label>
      </Page>
    );
  if (now === "place") {
    const place = walking.place!;
    const set = (with_: Partial<SiteBody>) => saving.run(() => change({ place: { ...place, ...with_ } }));
    return (
      <Page title={t("What do people call this place?")} {...back} thumb={<Key main onTap={on}>{place.name ? t("Good") : t("I do not know")}</Key>}>
        <Trouble saving={saving} />
        <label>{t("Name")}<input value={place.name} maxLength={120} onInput={(event) => void set({ name: event.currentTarget.value })} /></label>
        <OneOf legend={t("What is it?")} options={grounds()} value={place.ground} onPick={(ground) => set({ ground })} />
      </Page>
    );
  }
  const done = () =>
    saving.run(async () => {
      const place = walking.place;
      if (place) await change({ place: { ...place, name: place.name.trim() } });
      await finish(seen === "none" ? 0 : seen === "counted" ? total : undefined, words.trim() || undefined);
      buzz();
      void askToKeep();
      go("today", {}, true);
    });
  return (
    <Page title={t("Anything else to say of this walk?")} {...back} thumb={<Key main onTap={done}>{t("Keep this walk")}</Key>}>
      <Trouble saving={saving} />
      <Voices of={walking.id} />
      <label>{t("Remarks")}<textarea value={words} onInput={(event) => setWords(event.currentTarget.value)} /></label>
    </Page>
  );
}
