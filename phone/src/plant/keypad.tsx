/** A number typed with a thumb or a glove: keys of our own, because a phone's are small. */
import type { ComponentChildren } from "preact";
import { Key } from "../shell/keys";
import { t } from "../words";

/** The number that was typed; for a ratio also one length over another. NaN where it is none. */
export function numberFrom(typed: string, isRatio: boolean): number {
  const parts = typed.split("÷");
  if (parts.length > (isRatio ? 2 : 1) || parts.some((part) => !/^\d*\.?\d+$|^\d+\.$/.test(part))) return NaN;
  const [one = NaN, other] = parts.map(Number);
  return other === undefined ? one : one / other;
}

interface Props {
  typed: string;
  unit: string;
  isRatio: boolean;
  onType: (typed: string) => unknown;
  /** A key more, in the last row. */
  children?: ComponentChildren;
}

export function Keypad({ typed, unit, isRatio, onType, children }: Props) {
  const press = (sign: string) => onType((typed + sign).slice(0, 12));
  return (
    <div class="keypad" role="group" aria-label={t("Number")}>
      <output aria-live="polite" class={typed ? "" : "nothing"}>{typed ? `${typed} ${unit}` : isRatio ? t("a ÷ b, or what comes out") : t("how many {unit}", { unit })}</output>
      {["1", "2", "3", "4", "5", "6", "7", "8", "9", "0", "."].map((sign) => (
        <Key key={sign} label={sign === "." ? t("point") : sign} onTap={() => press(sign)}>{sign}</Key>
      ))}
      {isRatio ? <Key label={t("divided by")} onTap={() => press("÷")}>÷</Key> : null}
      {children}
      <Key label={t("Delete the last sign")} disabled={!typed} onTap={() => onType(typed.slice(0, -1))}>⌫</Key>
    </div>
  );
}
