/** Around every screen: language, hand and gloves of the person, and the app's own upkeep. */
import type { ComponentChildren } from "preact";
import { useEffect, useState } from "preact/hooks";
import { listen, settings } from "../store";
import { useRecorder } from "../walk/walking";

export function Frame({ children }: { children: ComponentChildren }) {
  const [now, setNow] = useState(settings());
  useEffect(() => listen(["settings"], () => setNow({ ...settings() })), []);
  useRecorder();
  document.documentElement.lang = now.language;
  document.documentElement.classList.toggle("sun", now.sun);
  const look = [now.hand, now.gloves ? "gloves" : ""].join(" ").trim();
  return <div class={look} key={now.language + now.units}>{children}</div>;
}
