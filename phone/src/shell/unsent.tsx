/** What is on this phone alone: to be sent, refused; always to be had as a file. */
import { useState } from "preact/hooks";
import { type ScreenProps, href } from "../router";
import { type Picture, type Unsent, changed, open, useLive } from "../store";
import { canBeWoken, lastRun, sync } from "../sync";
import { plural, sayMoment, t } from "../words";
import { handOver, unsentAsFile } from "./export";
import { Key, buzz } from "./keys";
import { Page, home } from "./page";
import { say } from "./say";

export function Screen(_: ScreenProps) {
  const held = useLive(async () => {
    const db = await open();
    return { outbox: await db.getAll("outbox"), photos: await db.getAll("photos"), voices: await db.count("voices") };
  }, ["outbox", "photos", "voices"]);
  const run = useLive(lastRun, ["sync"]);
  const woken = useLive(canBeWoken, []);
  const [sending, setSending] = useState(false);
  if (held === undefined) return null;
  const { outbox, photos, voices } = held;
  const waiting = outbox.filter((one) => one.state === "unsent");
  const refused = outbox.filter((one) => one.state === "refused");
  const aside = outbox.filter((one) => one.state === "aside");
  const pictures = photos.filter((one) => one.state === "unsent");
  const send = async () => {
    setSending(true);
    await sync().finally(() => setSending(false));
  };
  const nothing = outbox.length + photos.length + voices === 0;
  return (
    <Page
      title={waiting.length + pictures.length === 0 ? t("Everything has been sent") : plural("{n} thing to send", "{n} things to send", waiting.length + pictures.length)}
      back={home}
      thumb={
        <>
          {nothing ? null : <Key onTap={() => unsentAsFile().then(handOver)}>{t("Save it as a file")}</Key>}
          <Key main disabled={sending} onTap={send}>{sending ? t("Sending …") : t("Send now")}</Key>
        </>
      }
    >
      <p role="status">
        {run?.outcome === "unreachable" ? t("The office could not be reached. It will be tried again by itself.")
          : run?.outcome === "out" ? t("The office does not let this phone in: ask for a new invitation.")
          : run?.outcome === "trouble" ? t("Sending did not go through: {what} It will be tried again.", { what: run.said ?? "" }) : null}{" "}
        {woken === undefined || nothing ? null : woken
          ? t("Where there is signal again it is sent by itself, even if the app is closed.")
          : t("This phone sends only while the app is open: open it again where there is signal.")}{" "}
        {run?.done_at ? t("Last sent {when}.", { when: sayMoment(run.done_at) }) : t("Nothing has been sent from this phone yet.")}
      </p>
      {refused.length > 0 ? <h2 class="soon">{t("The office did not take these")}</h2> : null}
      {refused.length > 0 ? <ul class="lines">{refused.map((one) => <li key={one.id}><Refused one={one} /></li>)}</ul> : null}
      {photos.filter((one) => one.state === "refused").map((one) => (
        <p class="told" key={one.sha256}>
          {isSound(one) ? t("A voice note was not taken: {why}", { why: one.problem?.title ?? "" }) : t("A photo was not taken: {why}", { why: one.problem?.title ?? "" })}
        </p>
      ))}
      {waiting.length > 0 ? <h2>{t("To be sent")}</h2> : null}
      {waiting.length + pictures.length > 0 ? <ul class="lines">
        {waiting.map((one) => <li key={one.id}><div><span class="faint">{sayMoment(one.entry.made_at)}</span><br />{say(one.entry)}</div></li>)}
        {pictures.map((one) => (
          <li key={one.sha256}><div>{size(one)}</div></li>
        ))}
      </ul> : null}
      {aside.length > 0 ? <p class="faint">{plural("{n} refused entry was put aside; it is in the file.", "{n} refused entries were put aside; they are in the file.", aside.length)}</p> : null}
    </Page>
  );
}

const isSound = (one: Picture): boolean => one.type.startsWith("audio/");

function size(one: Picture): string {
  const share = Math.floor((100 * one.sent) / one.size);
  if (isSound(one)) return t("A voice note, {share} % sent.", { share });
  return t("A photo, {mb} MB, {share} % sent.", { mb: (one.size / 1e6).toFixed(1), share });
}

function Refused({ one }: { one: Unsent }) {
  const problem = one.problem;
  const put = async (state: Unsent["state"]) => {
    await (await open()).put("outbox", { ...one, state });
    buzz();
    changed("outbox");
  };
  return (
    <div>
      <p><span class="faint">{sayMoment(one.entry.made_at)}</span><br />{say(one.entry)}</p>
      <p class="told">{problem?.title} {problem?.rule} {problem?.step}</p>
      <div class="keys three">
        {one.entry.kind === "stop" ? <Key href={href("stop", { amends: one.id })}>{t("Correct it")}</Key> : null}
        <Key onTap={() => put("unsent")}>{t("Send it again")}</Key>
        <Key onTap={() => put("aside")}>{t("Put it aside")}</Key>
      </div>
    </div>
  );
}
