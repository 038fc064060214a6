/** What is tapped: keys, less-and-more, one of several. Each at least 56 px, and each says itself that it was tapped. */
import type { ComponentChildren } from "preact";
import { t } from "../words";

/** A short buzz: what was tapped is on the disk. Quietly nothing where a phone has none. */
export function buzz(): void {
  if ("vibrate" in navigator && navigator.userActivation?.hasBeenActive) navigator.vibrate(18);
}

interface KeyProps {
  children: ComponentChildren;
  onTap?: (() => unknown) | undefined;
  href?: string;
  main?: boolean;
  pressed?: boolean | undefined;
  disabled?: boolean;
  label?: string;
}

/** A button, or a link where it leads to another screen. `main` is the one thing to do next: one a screen. */
export function Key({ children, onTap, href, main, pressed, disabled, label }: KeyProps) {
  const look = main ? "key main" : "key";
  if (href !== undefined) return <a class={look} href={href} aria-label={label}>{children}</a>;
  return (
    <button type="button" class={look} aria-pressed={pressed} disabled={disabled} aria-label={label} onClick={() => onTap?.()}>
      {children}
    </button>
  );
}

/** A number with less and more at its sides. */
export function Count(props: { label: string; value: number; onChange: (value: number) => unknown; step?: number }) {
  const { label, value, onChange, step = 1 } = props;
  return (
    <div class="count" role="group" aria-label={label}>
      <span>{label}</span>
      <button type="button" class="key" disabled={value <= 0} aria-label={t("fewer: {what}", { what: label })}
        onClick={() => onChange(Math.max(0, value - step))}>−</button>
      <output class={value === 0 ? "faint" : ""} aria-live="polite">{value}</output>
      <button type="button" class="key" aria-label={t("more: {what}", { what: label })}
        onClick={() => onChange(value + step)}>+</button>
    </div>
  );
}

export interface Option<T> {
  value: T;
  text: string;
}

/** One question, a few answers, one tap. */
export function OneOf<T extends string | number | boolean>(props: {
  legend: string;
  options: readonly Option<T>[];
  value: T | undefined;
  onPick: (value: T) => unknown;
  columns?: 1 | 2 | 3;
}) {
  const { legend, options, value, onPick, columns = 2 } = props;
  return (
    <fieldset>
      <legend>{legend}</legend>
      <div class={`keys ${["", "", "two", "three"][columns]}`}>
        {options.map((option) => (
          <Key key={String(option.value)} pressed={option.value === value} onTap={() => onPick(option.value)}>
            {option.text}
          </Key>
        ))}
      </div>
    </fieldset>
  );
}
