/**
 * The phone's own store (IndexedDB). Nothing here is dropped before the office has said that it holds it.
 *
 * A migration is one step from a version to the next; steps are never edited, only added, and a test walks through
 * all of them with an outbox that is full.
 */
import { type DBSchema, type IDBPDatabase, type IDBPTransaction, type StoreNames, openDB } from "idb";
import type { Bodies, Kind, Point } from "./bodies";

export interface Entry<K extends Kind = Kind> {
  id: string;
  kind: K;
  site?: string;
  made_at: string;
  amends?: string;
  body: Bodies[K];
}

/**
 * An entry of this phone that the office does not hold yet, in the order of making (`n`). `refused`: the office said no;
 * `aside`: a person has seen to that. Neither is ever dropped.
 */
export interface Unsent {
  n?: number;
  id: string;
  entry: Entry;
  state: "unsent" | "refused" | "aside";
  problem?: Problem;
  tries: number;
}

export interface Problem {
  title: string;
  detail?: string;
  where?: string;
  rule?: string;
  step?: string;
}

/** An entry as the phone knows it, its own or the office's. */
export interface Known {
  id: string;
  entry: Entry & { by?: string };
  seq?: number;
  here: boolean;
  /** Made here, and the office has since found this phone's clock right: its day stands. */
  checked?: boolean;
}

/** An original that goes to the office by its hash: a photo, or a voice note whose entry is kept. */
export interface Picture {
  sha256: string;
  blob: Blob;
  type: string;
  size: number;
  made_at: string;
  /** How much of it the office holds; complete pictures are dropped from the phone. */
  sent: number;
  state: "unsent" | "refused";
  problem?: Problem;
}

/** What somebody said for something that is still under way (`of`); its entry is made when that is kept. */
export interface Voice {
  id: string;
  of: string;
  blob: Blob;
  made_at: string;
  seconds: number;
}

export interface Fix {
  n?: number;
  walk: string;
  t: number;
  at: Point;
  error_m: number;
  /** True where the line before this fix was not walked under the receiver's eye. */
  gap: boolean;
}

export interface Shape extends DBSchema {
  entries: { key: string; value: Known; indexes: { site: string; seq: number } };
  outbox: { key: number; value: Unsent; indexes: { id: string } };
  photos: { key: string; value: Picture };
  voices: { key: string; value: Voice; indexes: { of: string } };
  track: { key: number; value: Fix; indexes: { walk: string } };
  /** What is under way: a walk, a stop, a plant. Written at every tap. */
  drafts: { key: string; value: { key: string; value: unknown; at: string } };
  /** What was taken along: one record each for `today`, `sync`, and files such as aerial pictures. */
  today: { key: string; value: { key: string; value: unknown; at: string } };
  settings: { key: string; value: { key: string; value: unknown } };
}

export const NAME = "tepal";
type Step = (db: IDBPDatabase<Shape>, tx: IDBPTransaction<Shape, StoreNames<Shape>[], "versionchange">) => void;

export const STEPS: readonly Step[] = [
  (db) => {
    const entries = db.createObjectStore("entries", { keyPath: "id" });
    entries.createIndex("site", "entry.site");
    entries.createIndex("seq", "seq");
    db.createObjectStore("outbox", { keyPath: "n", autoIncrement: true }).createIndex("id", "id", { unique: true });
    db.createObjectStore("photos", { keyPath: "sha256" });
    db.createObjectStore("track", { keyPath: "n", autoIncrement: true }).createIndex("walk", "walk");
    db.createObjectStore("drafts", { keyPath: "key" });
    db.createObjectStore("today", { keyPath: "key" });
    db.createObjectStore("settings", { keyPath: "key" });
  },
  (db) => {
    db.createObjectStore("voices", { keyPath: "id" }).createIndex("of", "of");
  },
];

let opened: Promise<IDBPDatabase<Shape>> | undefined;

export function open(): Promise<IDBPDatabase<Shape>> {
  opened ??= openDB<Shape>(NAME, STEPS.length, {
    upgrade(db, from, _to, tx) {
      for (const step of STEPS.slice(from)) step(db, tx);
    },
    blocking(_now, _blocked, event) {
      // Another tab brings a newer app: make way, and start anew with it.
      (event.target as IDBDatabase).close();
      opened = undefined;
    },
    terminated() {
      opened = undefined;
    },
  });
  opened.catch(() => (opened = undefined));
  return opened;
}
