/** A number typed with a thumb or a glove: keys of our own, because a phone's are small. */
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
}

export function Keypad({ typed, unit, isRatio, onType }: Props) {
  const last = isRatio ? "÷" : "";
  const press = (sign: string) => onType((typed + sign).slice(0, 12));
  return (
    <div class="keypad" role="group" aria-label={t("Number")}>
      <output aria-live="polite">{typed || "–"} {unit}</output>
      {["1", "2", "3", "4", "5", "6", "7", "8", "9", ".", "0"].map((sign) => (
        <Key key={sign} label={sign === "." ? t("point") : sign} onTap={() => press(sign)}>{sign}</Key>
      ))}
      <Key label={t("Delete the last sign")} disabled={!typed} onTap={() => onType(typed.slice(0, -1))}>⌫</Key>
      {last ? <Key label={t("over")} onTap={() => press(last)}>{last}</Key> : null}
    </div>
  );
}
