/** What stands: of a site, or all that this phone wrote. Each can be corrected or taken back; both are kept. */
import { useState } from "preact/hooks";
import { type ScreenProps, href } from "../router";
import { type Entry, type Known, type SoundBody, keep, ofSite, open, standing, useLive, withdraw } from "../store";
import { useSites, useTaken } from "../walk/taken";
import { sayMoment, t } from "../words";
import { Key, buzz } from "./keys";
import { Page, home } from "./page";
import { say } from "./say";
import { Heard } from "./voice";

/** Screens that can correct a kind; others are taken back and written anew. */
const CORRECTS: Partial<Record<Entry["kind"], string>> = { stop: "stop", plant: "plant", done: "done" };
const A_PAGE = 30;

export function Screen({ params }: ScreenProps) {
  const site = params["site"];
  const [shown, setShown] = useState(A_PAGE);
  const [chosen, setChosen] = useState<string>();
  const all = useLive(async () => {
    const known = site === undefined ? (await (await open()).getAll("entries")).filter((one) => one.here) : await ofSite(site);
    return standing(known).sort((a, b) => Date.parse(b.entry.made_at) - Date.parse(a.entry.made_at));
  }, ["entries"], [site]);
  const me = useTaken()?.person;
  const mine = ({ here, entry }: Known) => here || me?.role === "coordinator" || entry.by === me?.name;
  const names = new Map((useSites() ?? []).map((one) => [one.id, one.name]));
  if (all === undefined) return null;
  const versions = new Map<string, number>();
  for (const { entry } of all) if (entry.amends) versions.set(entry.amends, (versions.get(entry.amends) ?? 0) + 1);
  return (
    <Page title={t("What was written down")} back={site === undefined ? home : href("site", { site })}>
      {all.length === 0 ? <p>{t("Nothing yet.")}</p> : null}
      <ul class="lines">
        {all.slice(0, shown).map((known) => (
          <li key={known.id}>
            <div>
              <Line known={known} name={names.get(known.entry.site ?? "")} twice={(versions.get(known.entry.amends ?? "") ?? 0) > 1} />
              {chosen === known.id ? <Correct known={known} /> : mine(known) ? (
                <p><button type="button" class="inline" onClick={() => setChosen(known.id)}>{t("Correct or take back")}</button></p>
              ) : null}
            </div>
          </li>
        ))}
      </ul>
      {all.length > shown ? <Key onTap={() => setShown(shown + A_PAGE)}>{t("Show older ones")}</Key> : null}
    </Page>
  );
}

function Line({ known, name, twice }: { known: Known; name: string | undefined; twice: boolean }) {
  const { entry } = known;
  return (
    <>
      <p class="faint">{sayMoment(entry.made_at)}{name ? ` · ${name}` : ""}{entry.by ? ` · ${entry.by}` : ""}</p>
      <p>{say(entry)}</p>
      {entry.kind === "sound" ? <Heard sha256={(entry.body as SoundBody).sha256} label={say(entry)} /> : null}
      {twice ? <p><strong>{t("Corrected twice, differently: both stand until somebody takes one back.")}</strong></p> : null}
      {entry.amends && !twice ? <p class="faint">{t("Corrected; the older wording is kept.")}</p> : null}
    </>
  );
}

function Correct({ known }: { known: Known }) {
  const screen = CORRECTS[known.entry.kind];
  const [sure, setSure] = useState(false);
  const back = () => void keep([withdraw(known.entry)]).then(buzz);
  return (
    <div class="keys two">
      {screen ? <Key href={href(screen, { amends: known.id })}>{t("Correct it")}</Key> : null}
      {sure ? <Key onTap={back}>{t("Yes, take it back")}</Key> : <Key onTap={() => setSure(true)}>{t("Take it back")}</Key>}
    </div>
  );
}

