/** What a person has to know before anything else: not let in, a wrong clock, a full or emptied phone. Each says what to do. */
import { useState } from "preact/hooks";
import { amend, clockError, keep, open, useLive } from "../store";
import { lastRun, wrongDays } from "../sync";
import { sayDay, plural, t } from "../words";
import { Key } from "./keys";
import { dismissEmptied, wasEmptied } from "./keeping";

export function Notices() {
  const run = useLive(lastRun, ["sync"]);
  const error = useLive(async () => clockError(), ["settings"]);
  const wrong = useLive(() => wrongDays(clockError()), ["settings", "entries", "sync"]);
  const emptied = useLive(wasEmptied, ["settings"]);
  return (
    <>
      {emptied ? (
        <div class="told" role="status">
          <p>{t("This phone's system has emptied the app since {day}.", { day: sayDay(emptied.day) })}{" "}
            {emptied.unsent > 0
              ? plural("{n} entry had not been sent and is lost. What had been sent is safe with the office.",
                  "{n} entries had not been sent and are lost. What had been sent is safe with the office.", emptied.unsent)
              : t("Everything had been sent: nothing is lost.")}</p>
          <Key onTap={dismissEmptied}>{t("I have read this")}</Key>
        </div>
      ) : null}
      {run?.outcome === "out" ? <Invited /> : null}
      {error ? (
        <div class="told" role="status">
          <p>{error > 0
            ? t("This phone's clock is {off} ahead. Set it right: days count from it.", { off: span(error) })
            : t("This phone's clock is {off} behind. Set it right: days count from it.", { off: span(-error) })}</p>
          {wrong?.length ? (
            <Key onTap={() => correct(wrong)}>
              {plural("Correct the day of {n} entry", "Correct the day of {n} entries", wrong.length)}
            </Key>
          ) : null}
        </div>
      ) : null}
      {run?.outcome === "trouble" ? (
        <div class="told" role="status"><p>{t("Sending did not go through: {what} It will be tried again.", { what: run.said ?? "" })}</p></div>
      ) : null}
    </>
  );
}

function Invited() {
  const [code, setCode] = useState("");
  return (
    <div class="told">
      <p>{t("The office does not know this phone yet. Open the invitation that you were sent, or write its code here. What you write down meanwhile is kept.")}</p>
      <label>{t("Code of the invitation")}
        <input value={code} autocomplete="off" autocapitalize="off" onInput={(event) => setCode(event.currentTarget.value)} />
      </label>
      <Key disabled={code.trim() === ""} onTap={() => location.assign(new URL(`../join#${encodeURIComponent(code.trim())}`, document.baseURI))}>
        {t("Let this phone in")}
      </Key>
    </div>
  );
}

async function correct(wrong: { id: string; on: string }[]): Promise<void> {
  const db = await open();
  const made = [];
  for (const { id, on } of wrong) {
    const known = await db.get("entries", id);
    if (known) made.push(amend(known.entry, { ...known.entry.body, on } as typeof known.entry.body));
  }
  await keep(made);
}

function span(seconds: number): string {
  if (seconds < 5_400) return plural("{n} minute", "{n} minutes", Math.round(seconds / 60));
  if (seconds < 129_600) return plural("{n} hour", "{n} hours", Math.round(seconds / 3_600));
  return plural("{n} day", "{n} days", Math.round(seconds / 86_400));
}
