import { render } from "preact";
import { Router } from "./router";
import { Frame } from "./shell/frame";
import { watchTheStore } from "./shell/keeping";
import { loadSettings, sendStrays } from "./store";
import { keepInStep } from "./sync";

await Promise.all([loadSettings(), watchTheStore()]);
render(
  <Frame>
    <Router />
  </Frame>,
  document.getElementById("app")!,
);
keepInStep();
void sendStrays().catch((problem: unknown) => console.error(problem));
// Not on an address without https, where a phone has no worker: the app works then, but not without signal.
if ("serviceWorker" in navigator) void navigator.serviceWorker.register("worker.js").catch((problem: unknown) => console.warn(problem));
