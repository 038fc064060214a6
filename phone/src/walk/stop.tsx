/** A stop: how many, by size, on how much ground. None is one tap; everything that is tapped is on the disk at once. */
import { useEffect, useState } from "preact/hooks";
import { type ScreenProps, go, href } from "../router";
import { ChooseSite } from "../shell/choose";
import { askToKeep } from "../shell/keeping";
import { Count, Key, OneOf, buzz } from "../shell/keys";
import { Page } from "../shell/page";
import { Trouble, useSaving } from "../shell/saving";
import { Voices } from "../shell/voice";
import {
  type Entry, type Point, type SizeClass, type StopBody, amend, dropDraft, dropVoices, keep, make, newId, open, readDraft,
  saidFor, saveDraft, saveSettings, settings, useLive, voicesOf,
} from "../store";
import { distance, plural, t } from "../words";
import { SiteMap } from "./map";
import { type Here, useHere } from "./place";
import {
  type Looked, SIZES, areas, rowLengths, rowWidths, sayArea, sayLooked, sayRow, saySize, sayTaxon, sayWidth,
} from "./sizes";
import { useAerial, useSites } from "./taken";
import { readWalking, siteEntry } from "./walking";
import { others } from "./weeds";

/** What has been tapped so far. */
interface Stopping extends Looked {
  id: string;
  site: string;
  walk?: string;
  /** The entry that this corrects. */
  older?: Entry<"stop">;
  at?: Point;
  error_m?: number;
  /** Where the place comes from; a tapped one is not moved by the receiver. */
  from?: "receiver" | "map";
  taxon: string;
  counts: Partial<Record<SizeClass, number>>;
  /** Tallies that this screen does not show (other taxa of a corrected stop): handed on as they are. */
  rest: StopBody["counts"];
  also: string[];
  words: string;
  by_sight: boolean;
}

type View = "count" | "looked" | "which" | "also" | "say" | "where";

const KEY = "stop";
/** A finger on a map without a picture: 1 sd, a guess on the safe side. */
const TAPPED_M = 15.24;
const FIRST_ROW_M = 17.5 * 0.3048;

interface LastStop {
  taxon: string;
  looked: Looked;
}

async function begin(params: ScreenProps["params"]): Promise<Stopping> {
  const under = await readDraft<Stopping>(KEY);
  if (under !== undefined && (params["amends"] === undefined || under.older?.id === params["amends"])) return under;
  const older = params["amends"] === undefined ? undefined : await (await open()).get("entries", params["amends"]);
  if (older?.entry.kind === "stop") return corrected(older.entry as Entry<"stop">);
  const walking = await readWalking();
  const last = (await (await open()).get("settings", "last_stop"))?.value as LastStop | undefined;
  return {
    id: newId(),
    site: params["site"] ?? walking?.site ?? "",
    ...(walking !== undefined && (params["site"] ?? walking.site) === walking.site ? { walk: walking.id } : {}),
    taxon: last?.taxon ?? "pigweed",
    ...(last?.looked ?? { row_m: FIRST_ROW_M, row_cm: settings().row_cm }),
    counts: {},
    rest: [],
    also: [],
    words: "",
    by_sight: false,
  };
}

function corrected(older: Entry<"stop">): Stopping {
  const { counts, words, by_sight, ...body } = older.body;
  const taxon = counts[0]?.taxon ?? "pigweed";
  const shown = counts.filter((tally) => tally.taxon === taxon && SIZES.includes(tally.size ?? "unknown") && tally.tallest_cm === undefined);
  return {
    ...body,
    id: newId(),
    site: older.site!,
    older,
    from: "map",
    taxon,
    counts: Object.fromEntries(shown.map((tally) => [tally.size, tally.count])),
    rest: counts.filter((tally) => !shown.includes(tally)),
    also: [],
    words: words ?? "",
    by_sight: by_sight ?? false,
  };
}

function bodyOf(stop: Stopping): StopBody {
  const tallies = SIZES.flatMap((size) => {
    const count = stop.counts[size] ?? 0;
    return count > 0 ? [{ taxon: stop.taxon, size, count }] : [];
  });
  const names = new Map(others());
  const also = stop.also.map((code) => `${names.get(code) ?? code} (${code})`).join(", ");
  const words = [stop.words.trim(), also && t("Also there: {weeds}.", { weeds: also })].filter(Boolean).join(" ");
  return {
    ...(stop.older?.body.on === undefined ? {} : { on: stop.older.body.on }),
    ...(stop.at === undefined ? {} : { at: stop.at.map((degrees) => Number(degrees.toFixed(6))) as Point }),
    ...(stop.at === undefined || stop.error_m === undefined ? {} : { error_m: Math.round(stop.error_m * 10) / 10 }),
    ...(stop.walk === undefined ? {} : { walk: stop.walk }),
    ...(stop.area_m2 === undefined ? {} : { area_m2: stop.area_m2 }),
    ...(stop.row_m === undefined ? {} : { row_m: Number(stop.row_m.toFixed(4)) }),
    ...(stop.row_cm === undefined ? {} : { row_cm: stop.row_cm }),
    counts: [...tallies, ...stop.rest],
    ...(stop.by_sight ? { by_sight: true } : {}),
    ...(words ? { words } : {}),
  };
}

/** Keeps it as an entry; a refused one that is corrected is sent as a new one, and the refused one is put aside. */
async function finish(stop: Stopping): Promise<void> {
  const body = bodyOf(stop);
  const db = await open();
  if (stop.older !== undefined) {
    const waiting = await db.getFromIndex("outbox", "id", stop.older.id);
    const refused = waiting?.state === "refused";
    const entry = refused ? make("stop", body, { site: stop.site }) : amend(stop.older, body);
    const { entries, ...beside } = await saidFor(stop.id, entry);
    await keep([entry, ...entries], { ...beside, drop: [KEY], ...(refused ? { aside: [stop.older.id] } : {}) });
    return;
  }
  const walking = await readWalking();
  const before = walking?.id === stop.walk && walking !== undefined ? await siteEntry(walking) : [];
  const entry = make("stop", body, { site: stop.site, id: stop.id });
  const { entries, ...beside } = await saidFor(stop.id, entry);
  await keep([...before, entry, ...entries], { ...beside, drop: [KEY] });
  const looked: Looked = {
    ...(stop.area_m2 === undefined ? {} : { area_m2: stop.area_m2 }),
    ...(stop.row_m === undefined ? {} : { row_m: stop.row_m }),
    ...(stop.row_cm === undefined ? {} : { row_cm: stop.row_cm }),
  };
  await db.put("settings", { key: "last_stop", value: { taxon: stop.taxon, looked } satisfies LastStop });
  void askToKeep();
}

export function Screen({ params }: ScreenProps) {
  const [stop, setStop] = useState<Stopping>();
  const [view, setView] = useState<View>("count");
  const saving = useSaving();
  const { here, lack } = useHere();
  useEffect(() => void begin(params).then(setStop), []);

  const change = (with_: Partial<Stopping>, tapped = true) => {
    if (stop === undefined) return;
    const now = { ...stop, ...with_ };
    setStop(now);
    void saving.run(async () => {
      await saveDraft(KEY, now);
      if (tapped) buzz();
    }, !tapped);
  };

  // The best fix while one stands here; the errors of one receiver at one place go together, so a mean would not be surer.
  useEffect(() => {
    if (stop === undefined || here === undefined || stop.from === "map") return;
    if (stop.error_m === undefined || here.error_m < stop.error_m)
      change({ at: here.at, error_m: here.error_m, from: "receiver" }, false);
  }, [here?.t, stop === undefined]);

  const said = useLive(async () => (stop === undefined ? [] : voicesOf(stop.id)), ["voices"], [stop?.id])?.length ?? 0;
  if (stop === undefined) return null;
  if (stop.site === "") return <ChooseSite onPick={(site) => change({ site })} />;
  const total = SIZES.reduce((sum, size) => sum + (stop.counts[size] ?? 0), 0) + stop.rest.reduce((sum, one) => sum + one.count, 0);
  const leave = () => (stop.walk !== undefined && stop.older === undefined ? go("walk", {}, true) : go("site", { site: stop.site }, true));
  const done = () =>
    saving.run(async () => {
      await finish(stop);
      buzz();
      leave();
    });
  const cancel = async () => {
    await dropVoices(await voicesOf(stop.id));
    await dropDraft(KEY);
    leave();
  };
  if (view === "looked") return <HowMuch stop={stop} change={change} close={() => setView("count")} />;
  if (view === "which") return <Which stop={stop} change={change} close={() => setView("count")} />;
  if (view === "also") return <Also stop={stop} change={change} close={() => setView("count")} />;
  if (view === "say") return <Say stop={stop} change={change} close={() => setView("count")} />;
  if (view === "where") return <Where stop={stop} here={here} change={change} close={() => setView("count")} />;

  // Keys for gloves are larger: what is tapped at each stop comes first then, so that nobody has to scroll for it.
  const details = (
    <p class="lines-of-keys">
      <button type="button" class="inline" onClick={() => setView("looked")}>{sayLooked(stop)}</button>
      <button type="button" class="inline" onClick={() => setView("which")}>{sayTaxon(stop.taxon)}</button>
      <button type="button" class="inline" onClick={() => setView("where")}>
        {stop.at === undefined
          ? lack === "denied" ? t("No place: the phone may not tell it") : t("No place yet")
          : stop.from === "map" && stop.error_m === undefined ? t("Place from the map")
          : t("Place within {far}", { far: distance(2 * (stop.error_m ?? 0)) })}
      </button>
    </p>
  );
  const counts = SIZES.map((size) => (
    <Count key={size} label={saySize(size)} value={stop.counts[size] ?? 0}
      onChange={(n) => change({ counts: { ...stop.counts, [size]: n } })} />
  ));

  return (
    <Page
      title={stop.older === undefined ? t("How many stand here?") : t("Correct this stop")}
      thumb={
        <>
          <div class="keys three">
            <Key onTap={() => setView("also")}>{stop.also.length ? t("Others: {n}", { n: stop.also.length }) : t("Other weeds")}</Key>
            <Key onTap={() => setView("say")}>{said + (stop.words ? 1 : 0) > 0 ? t("Said: {n}", { n: said + (stop.words ? 1 : 0) }) : t("Say it")}</Key>
            <Key href={href("plant", { stop: stop.id, site: stop.site })}>{t("Name one")}</Key>
          </div>
          <Key main onTap={done}>
            {total === 0 ? t("None here") : plural("Keep {n} plant", "Keep {n} plants", total)}
          </Key>
        </>
      }
      leave={{ text: t("Not a stop"), onTap: cancel }}
    >
      <Trouble saving={saving} />
      {settings().gloves ? <>{counts}{details}</> : <>{details}{counts}</>}
    </Page>
  );
}

interface Part {
  stop: Stopping;
  change: (with_: Partial<Stopping>) => void;
  close: () => void;
}

function HowMuch({ stop, change, close }: Part) {
  const { area_m2: _a, row_m: _m, row_cm: _c, ...rest } = stop;
  // `change` merges: what no longer holds must be taken out by name.
  const looked = (now: Looked) => change({ ...rest, area_m2: undefined, row_m: undefined, row_cm: undefined, ...now } as Partial<Stopping>);
  const row = (row_m: number) => looked({ row_m, row_cm: stop.row_cm ?? settings().row_cm });
  return (
    <Page title={t("How much did you look at?")} thumb={<Key main onTap={close}>{t("Good")}</Key>}>
      <OneOf legend={t("One row, this long")} value={stop.row_m} onPick={row} options={rowLengths().map((m) => ({ value: m, text: sayRow(m) }))} />
      {stop.row_m === undefined ? null : (
        <OneOf legend={t("Rows are apart")} value={stop.row_cm} columns={3} options={rowWidths().map((cm) => ({ value: cm, text: sayWidth(cm) }))}
          onPick={(row_cm) => {
            looked({ row_m: stop.row_m!, row_cm });
            void saveSettings({ row_cm });
          }} />
      )}
      <OneOf legend={t("Or an area")} value={stop.area_m2} columns={3} onPick={(area_m2) => looked({ area_m2 })}
        options={areas().map((m2) => ({ value: m2, text: sayArea(m2) }))} />
      <OneOf legend={t("How did you look?")} value={stop.by_sight} onPick={(by_sight) => change({ by_sight })}
        options={[{ value: false, text: t("Counted") }, { value: true, text: t("Guessed from the edge") }]} />
    </Page>
  );
}

function Which({ stop, change, close }: Part) {
  return (
    <Page title={t("Which are they?")} thumb={<Key main onTap={close}>{t("Good")}</Key>}>
      <p>{t("If you are not sure, leave them without a name: looks at one plant tell more than a guess.")}</p>
      <OneOf legend={t("Name")} value={stop.taxon} columns={1} onPick={(taxon) => change({ taxon })}
        options={["pigweed", "AMAPA", "AMATU"].map((code) => ({ value: code, text: sayTaxon(code) }))} />
    </Page>
  );
}

function Also({ stop, change, close }: Part) {
  return (
    <Page title={t("What else stands here?")} thumb={<Key main onTap={close}>{t("Good")}</Key>}>
      <div class="keys two">
        {others().map(([code, name]) => {
          const on = stop.also.includes(code);
          return (
            <Key key={code} pressed={on} onTap={() => change({ also: on ? stop.also.filter((one) => one !== code) : [...stop.also, code] })}>
              {name}
            </Key>
          );
        })}
      </div>
    </Page>
  );
}

function Say({ stop, change, close }: Part) {
  return (
    <Page title={t("What do you want to say?")} thumb={<Key main onTap={close}>{t("Good")}</Key>}>
      <Voices of={stop.id} />
      <label>{t("Or in writing")}
        <textarea value={stop.words} onInput={(event) => change({ words: event.currentTarget.value })} />
      </label>
    </Page>
  );
}

function Where({ stop, here, change, close }: Part & { here: Here | undefined }) {
  const site = (useSites() ?? []).filter((one) => one.id === stop.site);
  const aerial = useAerial(site[0]);
  return (
    <Page
      title={t("Where is it?")}
      thumb={
        <>
          <Key disabled={here === undefined} onTap={() => here && change({ at: here.at, error_m: here.error_m, from: "receiver" })}>
            {here === undefined ? t("The phone does not know where it is") : t("Here, within {far}", { far: distance(2 * here.error_m) })}
          </Key>
          <Key main onTap={close}>{t("Good")}</Key>
        </>
      }
    >
      <SiteMap sites={site} here={here} aerial={aerial} mark={stop.at} label={t("Map of the site")}
        onTap={(at) => change({ at: [Number(at[0].toFixed(6)), Number(at[1].toFixed(6))], error_m: TAPPED_M, from: "map" })} />
      <p>{t("Tap the map where the stop is. A tapped place counts as right within {far}.", { far: distance(2 * TAPPED_M) })}</p>
    </Page>
  );
}
