/** What it is, what would still change it, what to do today; figures behind one tap. */
import { useState } from "preact/hooks";
import { Key } from "../shell/keys";
import type { Site } from "../sync";
import { sayDay, t } from "../words";
import type { Data } from "./data";
import type { Call } from "./engine";
import { chance, sureness } from "./numbers";
import { forAndAgainst, ranked, reasons, said, settles } from "./sentences";
import { nameInWords } from "./texts";
import { today } from "./today";

/** A name with less than this has no line among the figures. */
const A_LINE = 0.01;

export const headline = (data: Data, call: Call): string => said(data.tables, data.say, call)[0] ?? "";

export function Result({ data, call, site }: { data: Data; call: Call; site: Site | undefined }) {
  const told = forAndAgainst(data.tables, data.say, call);
  const lead = ranked(data.tables, data.say.texts, call)[0];
  const scientific = lead?.codes.map((code) => data.say.texts.names[code]?.scientific ?? "").filter(Boolean).join(", ");
  const others = said(data.tables, data.say, call).slice(1).join(" ");
  const doing = today(data.tables, data.say, call);
  return (
    <>
      {scientific ? <p><em class="name">{scientific}</em></p> : null}
      {others ? <p>{others}</p> : null}
      <p>{settles(data.tables, data.say, call)}</p>
      {told.for.length ? <p><b>{t("For it:")}</b> {told.for.join("; ")}.</p> : null}
      {told.against.length ? <p><b>{t("Against it:")}</b> {told.against.join("; ")}.</p> : null}
      <Figures data={data} call={call} />
      <h2>{t("What to do today")}</h2>
      <ol>{doing.steps.map((step) => <li key={step}>{step}</li>)}</ol>
      {doing.cautions.length ? (
        <div class="told">
          <b>{t("Take care")}</b>
          <ul>{doing.cautions.map((caution) => <li key={caution}>{caution}</li>)}</ul>
        </div>
      ) : null}
      {site?.do?.length ? (
        <>
          <h2>{t("For all of {site} the office says", { site: site.name })}</h2>
          <ul>{site.do.map(({ text, by }) => <li key={text}>{text}{by ? ` (${t("by {day}", { day: sayDay(by) })})` : ""}</li>)}</ul>
        </>
      ) : null}
    </>
  );
}

function Figures({ data: { tables, say }, call }: { data: Data; call: Call }) {
  const [open, setOpen] = useState(false);
  const names = tables.names
    .map((name, k) => ({ name, p: call.posterior[k] ?? 0, before: call.prior[k] ?? 0 }))
    .filter(({ p }) => p >= A_LINE)
    .sort((a, b) => b.p - a.p);
  return (
    <section class="figures">
      <Key pressed={open} onTap={() => setOpen(!open)}>{open ? t("Hide the figures") : t("Figures")}</Key>
      {open ? (
        <>
          <h2>{t("How likely each name is")}</h2>
          <table>
            <tbody>
              {names.map(({ name, p, before }) => (
                <tr key={name}>
                  <td class="number"><data value={p}>{p.toFixed(2)}</data></td>
                  <th scope="row">
                    <b>{nameInWords(say.texts, name)}</b>{" "}
                    <em class="name">{say.texts.names[name]?.scientific}</em>
                    <br />{sureness(say.texts, p)}: {chance(t, p)}.{" "}
                    <span class="faint"><data value={before}>{t("Before any look: {chance}.", { chance: chance(t, before) })}</data></span>
                  </th>
                </tr>
              ))}
            </tbody>
          </table>
          <h2>{t("What each look says")}</h2>
          <ul>{reasons(tables, say, call).map((line) => <li key={line}>{line}</li>)}</ul>
          {call.asked.stage === "unknown" ? (
            <p>{t("The stage was not told. Likeliest: {stage}.", { stage: say.texts.stages[call.stage] ?? call.stage })}</p>
          ) : null}
          <p class="faint">{t("Every share is somebody's estimate. Where the plants here differ, this is wrong in the same way for every one of them.")}</p>
        </>
      ) : null}
    </section>
  );
}
