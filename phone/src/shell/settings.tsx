import type { ScreenProps } from "../router";
import { type Settings, saveSettings, settings, useLive } from "../store";
import { sync } from "../sync";
import { useTaken } from "../walk/taken";
import { t } from "../words";
import { askToKeep, room } from "./keeping";
import { Key, OneOf, buzz } from "./keys";
import { Page, home } from "./page";

const bytes = (mb: number): string => (mb < 1000 ? `${mb.toFixed(mb < 10 ? 1 : 0)} MB` : `${Math.floor(mb / 1000)} GB`);

export function Screen(_: ScreenProps) {
  const now = useLive(async () => ({ ...settings() }), ["settings"]) ?? settings();
  const space = useLive(room, ["settings", "outbox"]);
  const taken = useTaken();
  const set = (change: Partial<Settings>) => void saveSettings(change).then(buzz);
  // What was taken along is in the language it was asked in.
  const setWords = (change: Partial<Settings>) => void saveSettings(change).then(buzz).then(sync);
  return (
    <Page title={t("Settings")} back={home}>
      <OneOf legend={t("Language")} value={now.language} onPick={(language) => setWords({ language })}
        options={[{ value: "en", text: "English" }, { value: "es", text: "Español" }]} />
      <OneOf legend={t("Which hand holds the phone?")} value={now.hand} onPick={(hand) => set({ hand })}
        options={[{ value: "left", text: t("Left") }, { value: "right", text: t("Right") }]} />
      <OneOf legend={t("Gloves")} value={now.gloves} onPick={(gloves) => set({ gloves })}
        options={[{ value: false, text: t("Bare hands") }, { value: true, text: t("Gloves: bigger keys") }]} />
      <OneOf legend={t("In the sun")} value={now.sun} onPick={(sun) => set({ sun })}
        options={[{ value: false, text: t("As the phone is set") }, { value: true, text: t("Black on white") }]} />
      <OneOf legend={t("Units")} value={now.units} onPick={(units) => setWords({ units })}
        options={[{ value: "us", text: t("Feet and inches") }, { value: "metric", text: t("Metres") }]} />
      <h2>{t("This phone")}</h2>
      {taken ? <p>{t("It writes for {name}.", { name: taken.person.name })}</p> : null}
      {space === undefined ? (
        <p>{t("This phone does not tell how much room it has.")}</p>
      ) : (
        <>
          <p>{space.promised
            ? t("The phone has promised to keep what is written here.")
            : t("The phone has not promised to keep what is written here: it may clear it when it runs short of space. Send often, or save what has not been sent as a file.")}</p>
          <p>{t("{used} are used; about {free} are free.", { used: bytes(space.used_mb), free: bytes(space.free_mb) })}</p>
          {space.promised ? null : <Key onTap={() => askToKeep().then(() => saveSettings({}))}>{t("Ask the phone to keep it")}</Key>}
        </>
      )}
    </Page>
  );
}
