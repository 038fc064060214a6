/** Where the phone is: one watch for all screens, its last fix, and whether the screen can be kept on meanwhile. */
import { useEffect, useState } from "preact/hooks";
import type { Point } from "../store";
import { sd } from "./track";

export interface Here {
  at: Point;
  /** 1 sd, metres. */
  error_m: number;
  /** The receiver's own time of the fix: it may differ from the phone's clock, and is compared with its like alone. */
  t: number;
  /** When the phone heard of it, by its own clock. */
  heard_at: number;
}

export type Lack = "denied" | "unavailable" | null;

let here: Here | undefined;
let lack: Lack = null;
let watch: number | undefined;
let wanted = 0;
let lock: WakeLockSentinel | undefined;
const heard = new Set<() => void>();

function found({ coords, timestamp }: GeolocationPosition): void {
  here = { at: [coords.longitude, coords.latitude], error_m: sd(coords.accuracy), t: timestamp, heard_at: Date.now() };
  lack = null;
  for (const tell of heard) tell();
}

function missed(problem: GeolocationPositionError): void {
  lack = problem.code === problem.PERMISSION_DENIED ? "denied" : "unavailable";
  for (const tell of heard) tell();
}

/** Watches the place until the returned function is called by everybody who asked. */
export function follow(tell: () => void): () => void {
  heard.add(tell);
  wanted++;
  if (watch === undefined) {
    if ("geolocation" in navigator)
      watch = navigator.geolocation.watchPosition(found, missed, { enableHighAccuracy: true, maximumAge: 2_000, timeout: 20_000 });
    else lack = "unavailable";
  }
  return () => {
    heard.delete(tell);
    if (--wanted === 0 && watch !== undefined) {
      navigator.geolocation.clearWatch(watch);
      watch = undefined;
    }
  };
}

/** Nobody stands still for sure: half the time that a fix is old may have been walked. */
const STROLL_M_S = 0.6;

/** The last fix, surer the fresher it is; a place of a minute ago is no place. */
export function lastHere(now = Date.now()): Here | undefined {
  if (here === undefined) return undefined;
  const age_s = Math.max(0, now - here.heard_at) / 1000;
  return age_s < 60 ? { ...here, error_m: Math.hypot(here.error_m, STROLL_M_S * age_s) } : undefined;
}

export function useHere(): { here: Here | undefined; lack: Lack; staysOn: boolean | undefined } {
  const [, again] = useState(0);
  useEffect(() => follow(() => again((n) => n + 1)), []);
  return { here: lastHere(), lack, staysOn };
}

/** A place that is known already, without asking for leave: for the order of a list. */
export async function placeIfAllowed(): Promise<Point | undefined> {
  const leave = await navigator.permissions?.query({ name: "geolocation" }).catch(() => undefined);
  if (leave?.state !== "granted") return undefined;
  return new Promise((resolve) =>
    navigator.geolocation.getCurrentPosition(
      ({ coords }) => resolve([coords.longitude, coords.latitude]),
      () => resolve(undefined),
      { maximumAge: 600_000, timeout: 5_000 },
    ),
  );
}

/** Whether the screen is kept on: undefined until the phone has answered. */
let staysOn: boolean | undefined;

/** Keeps the screen on: a locked phone stops telling a page where it is. A phone low on battery may say no. */
export async function stayOn(): Promise<void> {
  if (lock === undefined || lock.released)
    lock = await navigator.wakeLock?.request("screen").catch(() => undefined);
  staysOn = lock !== undefined;
  for (const tell of heard) tell();
}

export async function letSleep(): Promise<void> {
  await lock?.release().catch(() => undefined);
  [lock, staysOn] = [undefined, undefined];
}
