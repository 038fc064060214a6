/** Three points on a photo: foot of the stalk, where the blade begins, tip. A magnifier shows what is under the finger. */
import { useRef, useState } from "preact/hooks";
import { Key, OneOf } from "../shell/keys";
import { Page } from "../shell/page";
import { Trouble, type Saving } from "../shell/saving";
import { t } from "../words";
import type { Data } from "../plant/data";
import type { Draft } from "../plant/draft";
import { usePicture } from "../plant/photos";
import { answer } from "../plant/session";
import { character } from "../plant/tables";
import { lookOf, ratio, tapError, type Points, type Ratio, type Tap, type WhichLeaf } from "./ratio";

/** A finger that rests longer than this, or is moved, has been steered by what the magnifier shows. */
const STEERED_MS = 350;
const MAGNIFIED = 3;
const GLASS_PX = 132;

interface Props {
  data: Data;
  draft: Draft;
  saving: Saving;
  onChange: (by: Partial<Draft>) => Promise<void>;
}

export function ThreePoints({ data, draft, saving, onChange }: Props) {
  const measuring = draft.measuring!;
  const url = usePicture(measuring.photo, "whole");
  const [at, setAt] = useState(Math.min(measuring.points.length, 2));
  const [size, setSize] = useState<{ width: number; height: number; shown: number }>();
  const [broken, setBroken] = useState(false);
  const leave = { text: t("Back"), onTap: () => onChange({ measuring: null }) };
  const set = (by: Partial<typeof measuring>) => onChange({ measuring: { ...measuring, ...by } });

  if (measuring.leaf === null) {
    return (
      <Page title={t("Which leaf is it?")} leave={leave}>
        <p>{t("Stalks get shorter up the stem, so the same number means something else on each leaf. A lower leaf tells most.")}</p>
        <OneOf<WhichLeaf> legend={t("The leaf on the photo is")} columns={1} value={undefined} onPick={(leaf) => set({ leaf })}
          options={[
            { value: "lower", text: t("one of the lower leaves") },
            { value: "mid", text: t("from half height") },
            { value: "upper", text: t("one of the upper full-grown leaves") },
          ]} />
      </Page>
    );
  }
  const { points } = measuring;
  const found = points.length === 3 && size ? ratio(points as unknown as Points, Math.max(size.width, size.height)) : null;
  const most = character(data.tables, `petiole_blade_ratio_${measuring.leaf}`).reading_cv ?? 0;
  const look = found && lookOf(found, measuring.leaf, most);
  const place = (point: Tap) => {
    const next = [...points];
    next[Math.min(at, points.length)] = point;
    setAt(Math.min(next.length > points.length ? next.length : at, 2));
    return set({ points: next });
  };
  const use = () => look && onChange({
    answered: answer({ ...draft.answered, stopped: false }, look.name, look.value),
    measuring: null, editing: null, typed: "",
    measured: { ...draft.measured, [measuring.photo]: t("{result} by three points on the photo.", { result: inWords(found!) }) },
  });
  const asked = [t("Touch the foot of the leaf stalk"), t("Touch where the blade begins"), t("Touch the tip of the blade")];
  return (
    <Page title={found ? inWords(found) : (asked[at] ?? "")} leave={leave}
      thumb={
        <>
          <Trouble saving={saving} />
          <div class="keys three ordered">
            {[t("Foot"), t("Blade begins"), t("Tip")].map((name, n) => (
              <Key key={name} pressed={n === at} disabled={n > points.length} onTap={() => setAt(n)}>{name}</Key>
            ))}
          </div>
          <Arrows onMove={(dx, dy) => size && place(moved(points[at], size, dx, dy))} />
          <Key main disabled={!look} onTap={use}>{t("Use it")}</Key>
        </>
      }>
      <p role="status" class="faint hint">{found ? verdict(found, look) : t("Rest the finger: a magnifier shows the place under it. Lift when the cross is right.")}</p>
      {broken ? <p>{t("This phone cannot show that photo. It is kept all the same.")}</p> : null}
      {url ? <Board url={url} points={points} at={at} onSize={setSize} onPlace={place} onBroken={() => setBroken(true)} /> : null}
    </Page>
  );
}

const inWords = ({ value, sd }: Ratio): string =>
  t("Leaf stalk over blade: {value} ± {error}", { value: value.toFixed(2), error: sd.toFixed(2) });

function verdict({ value, sd }: Ratio, look: ReturnType<typeof lookOf>): string {
  if (look === null) return t("Too coarse to count: rest the finger on each point, or take the photo from nearer.");
  if (typeof look.value === "number") return t("As good as with a ruler. It counts as a number.");
  const percent = Math.round((100 * sd) / value);
  return t("Off by {percent} in 100: it counts as longer or shorter only. Rest the finger on each point for a number.", { percent });
}

/** A point moved by one pixel of the screen, with the error of one that was steered; from the middle where there is none yet. */
function moved(point: Tap | undefined, size: { width: number; height: number; shown: number }, dx: number, dy: number): Tap {
  const scale = size.shown / size.width;
  const from = point ?? { x: size.width / 2, y: size.height / 2, sd: 0 };
  const held = (v: number, most: number) => Math.min(Math.max(v, 0), most);
  return { x: held(from.x + dx / scale, size.width), y: held(from.y + dy / scale, size.height), sd: tapError(true, scale) };
}

function Arrows({ onMove }: { onMove: (dx: number, dy: number) => unknown }) {
  const arrows: [string, string, number, number][] = [
    ["←", t("Left"), -1, 0], ["↑", t("Up"), 0, -1], ["↓", t("Down"), 0, 1], ["→", t("Right"), 1, 0],
  ];
  return (
    <div class="keys four ordered" role="group" aria-label={t("Move the point")}>
      {arrows.map(([sign, label, dx, dy]) => <Key key={sign} label={label} onTap={() => onMove(dx, dy)}>{sign}</Key>)}
    </div>
  );
}

interface BoardProps {
  url: string;
  points: Tap[];
  at: number;
  onSize: (size: { width: number; height: number; shown: number }) => unknown;
  onPlace: (point: Tap) => unknown;
  onBroken: () => unknown;
}

/** The photo with its points. Coordinates are pixels of the photo. */
function Board({ url, points, at, onSize, onPlace, onBroken }: BoardProps) {
  const image = useRef<HTMLImageElement>(null);
  const [finger, setFinger] = useState<{ x: number; y: number }>();
  const down = useRef<{ t: number } | undefined>(undefined);
  const spot = (event: PointerEvent) => {
    const box = image.current!.getBoundingClientRect();
    return { x: event.clientX - box.left, y: event.clientY - box.top, scale: box.width / image.current!.naturalWidth };
  };
  const start = (event: PointerEvent) => {
    (event.currentTarget as Element).setPointerCapture(event.pointerId);
    const { x, y } = spot(event);
    down.current = { t: event.timeStamp };
    setFinger({ x, y });
  };
  const lift = (event: PointerEvent) => {
    if (!down.current) return;
    const { x, y, scale } = spot(event);
    const steered = event.timeStamp - down.current.t >= STEERED_MS;
    down.current = undefined;
    setFinger(undefined);
    const { naturalWidth: width, naturalHeight: height } = image.current!;
    if (x >= 0 && y >= 0 && x / scale <= width && y / scale <= height) onPlace({ x: x / scale, y: y / scale, sd: tapError(steered, scale) });
  };
  const box = image.current;
  const scale = box?.naturalWidth ? box.clientWidth / box.naturalWidth : 0;
  const active = points[at];
  const shown = finger ?? (active && scale ? { x: active.x * scale, y: active.y * scale } : undefined);
  return (
    <div class="board" role="img" aria-label={t("The photo with the points that are set")}
      onPointerDown={start} onPointerMove={(event) => down.current && setFinger(spot(event))} onPointerUp={lift}
      onPointerCancel={() => { down.current = undefined; setFinger(undefined); }}>
      <img ref={image} src={url} alt="" draggable={false} onError={onBroken}
        onLoad={({ currentTarget: { naturalWidth: width, naturalHeight: height, clientWidth: shown } }) => onSize({ width, height, shown })} />
      {scale ? (
        <svg viewBox={`0 0 ${box!.clientWidth} ${box!.clientHeight}`} aria-hidden="true">
          <polyline points={points.map(({ x, y }) => `${x * scale},${y * scale}`).join(" ")} />
          {points.map(({ x, y }, n) => (
            <g key={n} class={n === at ? "active" : ""} transform={`translate(${x * scale} ${y * scale})`}>
              <circle r="11" /><path d="M-16 0H-5M5 0H16M0 -16V-5M0 5V16" />
            </g>
          ))}
        </svg>
      ) : null}
      {shown && box ? <Glass url={url} at={shown} width={box.clientWidth} height={box.clientHeight} isHeld={finger !== undefined} /> : null}
    </div>
  );
}

interface GlassProps {
  url: string;
  at: { x: number; y: number };
  width: number;
  height: number;
  isHeld: boolean;
}

/** What lies under the finger, enlarged: never below it, where the hand is; once it is lifted, away from the point. */
function Glass({ url, at, width, height, isHeld }: GlassProps) {
  const half = GLASS_PX / 2;
  const style = {
    width: `${GLASS_PX}px`,
    height: `${GLASS_PX}px`,
    backgroundImage: `url(${url})`,
    backgroundSize: `${width * MAGNIFIED}px ${height * MAGNIFIED}px`,
    backgroundPosition: `${half - at.x * MAGNIFIED}px ${half - at.y * MAGNIFIED}px`,
  };
  const isRight = at.x < width / 2;
  const side = isRight ? " right" : "";
  // On a narrow photo the upper corner may reach over the point itself.
  const covers = at.y < GLASS_PX + 12 && (isRight ? width - at.x : at.x) < GLASS_PX + 12;
  const low = !isHeld && covers ? " low" : "";
  return <div class={`glass${side}${low}`} style={style} aria-hidden="true"><i /></div>;
}
