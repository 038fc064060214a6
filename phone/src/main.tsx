import { render } from "preact";
import { Router } from "./router";
import { loadClockError, loadSettings } from "./store";
import { Frame } from "./shell/frame";

await Promise.all([loadSettings(), loadClockError()]);
render(
  <Frame>
    <Router />
  </Frame>,
  document.getElementById("app")!,
);
