import type { ScreenProps } from "../router";
import { t } from "../words";
import { Page } from "./page";

export function Screen(_: ScreenProps) {
  return <Page title={t("Today")}><p>{t("Nothing has been taken along yet.")}</p></Page>;
}
