/** Other weeds of summer crops that one tap notes, by their EPPO codes (the trade's own names are the messages). */
import { t } from "../words";

export const others = (): [code: string, name: string][] => [
  ["CHEAL", t("Common lambsquarters")],
  ["ABUTH", t("Velvetleaf")],
  ["KCHSC", t("Kochia")],
  ["AMBEL", t("Common ragweed")],
  ["AMBTR", t("Giant ragweed")],
  ["ERICA", t("Horseweed")],
  ["XANST", t("Cocklebur")],
  ["IPOSS", t("Morningglory")],
  ["SETFA", t("Giant foxtail")],
  ["ECHCG", t("Barnyardgrass")],
];
