/** The screens by the name in the address. A new screen is a module and a line here. */
import type { ComponentType } from "preact";
import type { ScreenProps } from "./router";
import { Screen as Today } from "./shell/today";

export const routes: Record<string, ComponentType<ScreenProps>> = {
  today: Today,
};
