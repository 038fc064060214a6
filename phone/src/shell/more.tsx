import { type ScreenProps, href } from "../router";
import { t } from "../words";
import { Page, home } from "./page";

export function Screen(_: ScreenProps) {
  const lines: [string, string][] = [
    ["plant", t("Look at one plant")],
    ["stop", t("Write down a stop without a walk")],
    ["done", t("Write down what was done")],
    ["sample", t("Take a sample")],
    ["written", t("What this phone has written down")],
    ["unsent", t("What has not been sent")],
    ["settings", t("Settings")],
  ];
  return (
    <Page title={t("More")} back={home}>
      <ul class="lines">
        {lines.map(([name, text]) => <li key={name}><a href={href(name)}>{text}</a></li>)}
      </ul>
    </Page>
  );
}
