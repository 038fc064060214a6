/** One question: drawings with words to tap, or a number to type. */
import { Key } from "../shell/keys";
import { t } from "../words";
import type { Data } from "./data";
import { Keypad, numberFrom } from "./keypad";
import { Plate } from "./plate";
import { STAGE, slip, type Question } from "./session";
import { CANNOT_TELL, type Answer } from "./tables";
import { capital } from "./texts";

/** Drawings that stand for a stage. */
const OF_STAGE: Record<string, [string, string]> = {
  cotyledon: ["cotyledon_shape", "oar_or_egg"],
  "seedling_2-4_leaf": ["first_leaf_tip_notch", "absent"],
  vegetative: ["growth_habit", "erect"],
  reproductive: ["inflorescence_position", "terminal_present"],
  mature_seed: ["seed_gloss", "shiny"],
};

export const asks = (data: Data, name: string): string =>
  name === STAGE ? t("How far along is the plant?") : (data.say.texts.characters[name]?.question ?? name);

export function toolNote(tool: string): string | undefined {
  if (tool === "hand_lens") return t("You need a hand lens.");
  if (tool === "ruler") return t("You need a ruler.");
  if (tool === "pulled_plant") return t("You need to pull the plant: wear gloves, and check that nothing was sprayed here lately.");
  return undefined;
}

interface Props {
  data: Data;
  question: Question;
  given: Answer | readonly Answer[] | undefined;
  onAnswer: (answer: Answer) => unknown;
}

/** The answers of a question with states, each as large as a thumb in a glove needs it. */
export function States({ data, question, given, onAnswer }: Props) {
  const { states, character } = question;
  const words = (state: string): string =>
    capital((character === STAGE ? data.say.texts.stages[state] : data.say.texts.characters[character]?.states[state]) ?? state);
  return (
    <div class={states.length > 3 ? "answers many" : "answers"} role="group" aria-label={t("Answers")}>
      {states.map((state) => {
        const [name, of] = character === STAGE ? (OF_STAGE[state] ?? ["", ""]) : [character, state];
        return (
          <button key={state} type="button" class="key answer" aria-pressed={given === undefined ? undefined : given === state}
            onClick={() => onAnswer(state)}>
            <Plate data={data} name={name} state={of} />
            <span>{words(state)}</span>
          </button>
        );
      })}
    </div>
  );
}

const CM_PER_INCH = 2.54;

interface NumberProps {
  data: Data;
  question: Question;
  typed: string;
  inches: boolean;
  onType: (change: { typed?: string; inches?: boolean }) => unknown;
  onAnswer: (answer: Answer) => unknown;
}

/** What is typed, in the table's unit; what is wrong with it, or that it is not typed yet. */
export function typedValue(data: Data, question: Question, typed: string, inches: boolean): number | string | null {
  if (!typed) return null;
  const isRatio = question.unit === "ratio";
  const raw = numberFrom(typed, isRatio);
  const value = question.unit === "cm" && inches ? raw * CM_PER_INCH : raw;
  const wrong = slip(data.tables, question.character, value);
  if (wrong === "no_number") return t("That is no number yet.");
  if (wrong === "too_big") return t("No plant has that much: look at the unit and the point.");
  return Number(value.toPrecision(4));
}

export function Typed({ data, question, typed, inches, onType, onAnswer }: NumberProps) {
  const isRatio = question.unit === "ratio";
  const value = typedValue(data, question, typed, inches);
  const unit = isRatio ? "" : question.unit === "cm" ? (inches ? t("in") : "cm") : question.unit;
  return (
    <>
      {typeof value === "string" ? <p role="status">{value}</p> : null}
      <Keypad typed={typed} unit={unit} isRatio={isRatio} onType={(next) => onType({ typed: next })}>
        {question.unit === "cm" ? <Key label={inches ? t("Inches; tap for centimeters") : t("Centimeters; tap for inches")} onTap={() => onType({ inches: !inches })}><small>{unit}</small></Key> : null}
      </Keypad>
      <div class="keys two">
        <Key onTap={() => onAnswer(CANNOT_TELL)}>{t("I cannot tell")}</Key>
        <Key main disabled={typeof value !== "number"} onTap={() => typeof value === "number" && onAnswer(value)}>{t("That is it")}</Key>
      </div>
    </>
  );
}
