/** The screens by the name in the address. A new screen is a module and a line here. */
import type { ComponentType } from "preact";
import type { ScreenProps } from "./router";
import { Screen as Done } from "./acts/done";
import { Screen as Letter } from "./acts/letter";
import { Screen as Report } from "./acts/report";
import { Screen as Sample } from "./acts/sample";
import { Screen as Looked } from "./plant/looked";
import { Screen as Plant } from "./plant/screen";
import { Screen as Call } from "./shell/call";
import { Screen as More } from "./shell/more";
import { Screen as Settings } from "./shell/settings";
import { Screen as Site } from "./shell/site";
import { Screen as Today } from "./shell/today";
import { Screen as Unsent } from "./shell/unsent";
import { Screen as Written } from "./shell/written";
import { Screen as End } from "./walk/end";
import { Screen as Place } from "./walk/place-screen";
import { Screen as Stop } from "./walk/stop";
import { Screen as Walk } from "./walk/walk";

export const routes: Record<string, ComponentType<ScreenProps>> = {
  today: Today,
  site: Site,
  call: Call,
  walk: Walk,
  place: Place,
  stop: Stop,
  end: End,
  plant: Plant,
  looked: Looked,
  done: Done,
  sample: Sample,
  report: Report,
  letter: Letter,
  written: Written,
  unsent: Unsent,
  settings: Settings,
  more: More,
};
