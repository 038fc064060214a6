/** Voice notes: recorded and heard here; they go to the office with what they belong to. */
import { useEffect, useRef, useState } from "preact/hooks";
import { type Voice, dropVoices, keepVoice, moment, newId, open, until, useLive, voicesOf } from "../store";
import { t } from "../words";
import { Key, buzz } from "./keys";
import { Trouble, useSaving } from "./saving";
import { lasting } from "./say";

const LONGEST_S = 120;
/** Speech stays plain at this, and two minutes of it are a third of a megabyte. */
const BITS_A_SECOND = 24_000;
const KEPT_EVERY_MS = 2_000;
/** What the ledger takes, the one that most browsers play first. */
const KINDS = ["audio/webm;codecs=opus", "audio/mp4", "audio/ogg;codecs=opus"];

export const canRecord = (): boolean =>
  "mediaDevices" in navigator && "MediaRecorder" in globalThis && KINDS.some((kind) => MediaRecorder.isTypeSupported(kind));

export function Voices({ of }: { of: string }) {
  const voices = useLive(() => voicesOf(of), ["voices"], [of]);
  const [recorder, setRecorder] = useState<MediaRecorder>();
  const [lack, setLack] = useState(!canRecord());
  const saving = useSaving();
  const open_ = useRef<MediaRecorder | undefined>(undefined);
  useEffect(() => () => open_.current?.state === "recording" && open_.current.stop(), []);

  const begin = async () => {
    try {
      const stream = await navigator.mediaDevices.getUserMedia({ audio: true });
      const made = new MediaRecorder(stream, { mimeType: KINDS.find((kind) => MediaRecorder.isTypeSupported(kind))!, audioBitsPerSecond: BITS_A_SECOND });
      const parts: Blob[] = [];
      const [id, since] = [newId(), Date.now()];
      const soFar = (): Voice => ({
        id, of, blob: new Blob(parts, { type: made.mimeType }), made_at: moment(), seconds: Math.max(1, Math.round((Date.now() - since) / 1000)),
      });
      made.ondataavailable = (event) => {
        parts.push(event.data);
        if (made.state === "recording") void saving.run(() => keepVoice(soFar()), true);
      };
      until(new Promise<void>((saved) => {
        made.onstop = () => {
          for (const track of stream.getTracks()) track.stop();
          setRecorder(undefined);
          void saving.run(async () => {
            await keepVoice(soFar());
            buzz();
          }).then(saved);
        };
      }));
      made.start(KEPT_EVERY_MS);
      setTimeout(() => made.state === "recording" && made.stop(), LONGEST_S * 1000);
      open_.current = made;
      setRecorder(made);
    } catch {
      setLack(true);
    }
  };
  return (
    <section>
      <Trouble saving={saving} />
      <div class="keys">
        {recorder !== undefined ? (
          <Key pressed onTap={() => recorder.stop()}>{t("Recording: tap to stop")}</Key>
        ) : lack ? null : (
          <Key onTap={begin}>{t("Record what you say")}</Key>
        )}
      </div>
      {lack ? <p>{t("This phone does not let the app hear you. Write it instead.")}</p> : null}
      {recorder !== undefined ? null : voices?.map((voice) => (
        <div key={voice.id} class="said">
          <Player blob={voice.blob} label={lasting(voice.seconds)} />
          <button type="button" class="inline" onClick={() => void saving.run(() => dropVoices([voice]))}>{t("Drop it")}</button>
        </div>
      ))}
      {lack ? null : <p class="faint">{t("The office hears it: it goes there with what you write down here.")}</p>}
    </section>
  );
}

function Player({ blob, label }: { blob: Blob; label: string }) {
  const [url, setUrl] = useState<string>();
  useEffect(() => {
    const made = URL.createObjectURL(blob);
    setUrl(made);
    return () => URL.revokeObjectURL(made);
  }, [blob]);
  return <audio controls src={url} aria-label={label} />;
}

/** A kept one: from this phone as long as it has it, then from the office. */
export function Heard({ sha256, label }: { sha256: string; label: string }) {
  const here = useLive(async () => (await (await open()).get("photos", sha256))?.blob ?? null, ["photos"], [sha256]);
  if (here === undefined) return null;
  if (here !== null) return <Player blob={here} label={label} />;
  return <audio controls preload="none" src={new URL(`../sounds/${sha256}`, document.baseURI).href} aria-label={label} />;
}
