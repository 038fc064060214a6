/** Voice notes: recorded and heard on this phone; they never leave it. What they say is written down by a person. */
import { useEffect, useRef, useState } from "preact/hooks";
import { type Voice, changed, moment, newId, open, useLive } from "../store";
import { plural, t } from "../words";
import { Key, buzz } from "./keys";
import { Trouble, useSaving } from "./saving";

const LONGEST_S = 120;

export const voicesOf = async (of: string): Promise<Voice[]> => (await open()).getAllFromIndex("voices", "of", of);

export function Voices({ of }: { of: string }) {
  const voices = useLive(() => voicesOf(of), ["voices"], [of]);
  const [recorder, setRecorder] = useState<MediaRecorder>();
  const [lack, setLack] = useState(false);
  const saving = useSaving();
  const open_ = useRef<MediaRecorder | undefined>(undefined);
  useEffect(() => () => open_.current?.state === "recording" && open_.current.stop(), []);

  const begin = async () => {
    try {
      const stream = await navigator.mediaDevices.getUserMedia({ audio: true });
      const made = new MediaRecorder(stream);
      const parts: Blob[] = [];
      const since = Date.now();
      made.ondataavailable = (event) => parts.push(event.data);
      made.onstop = () => {
        for (const track of stream.getTracks()) track.stop();
        setRecorder(undefined);
        const seconds = Math.round((Date.now() - since) / 1000);
        const voice: Voice = { id: newId(), of, blob: new Blob(parts, { type: made.mimeType }), made_at: moment(), seconds };
        void saving.run(async () => {
          await (await open()).put("voices", voice);
          buzz();
          changed("voices");
        });
      };
      made.start();
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
        {recorder === undefined ? (
          <Key onTap={begin}>{t("Record what you say")}</Key>
        ) : (
          <Key pressed onTap={() => recorder.stop()}>{t("Recording: tap to stop")}</Key>
        )}
      </div>
      {lack ? <p>{t("This phone does not let the app hear you. Write it instead.")}</p> : null}
      {voices?.length ? <p>{plural("{n} voice note kept on this phone.", "{n} voice notes kept on this phone.", voices.length)}</p> : null}
      <p class="faint">{t("A voice note stays on this phone until somebody has written down what it says.")}</p>
    </section>
  );
}

export function Player({ voice }: { voice: Voice }) {
  const [url, setUrl] = useState<string>();
  useEffect(() => {
    const made = URL.createObjectURL(voice.blob);
    setUrl(made);
    return () => URL.revokeObjectURL(made);
  }, [voice.id]);
  return <audio controls src={url} aria-label={t("Voice note")} />;
}
