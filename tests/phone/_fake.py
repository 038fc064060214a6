"""What a test lays into the browser: a receiver that says what the test wants, and a clock that is wrong."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from playwright.sync_api import Page

# In place of the phone's receiver. It knows no fix until one is given.
RECEIVER = """
(() => {
  const watches = new Map(); let last = null, n = 0;
  const position = (f) => ({ coords: { longitude: f[0], latitude: f[1], accuracy: f[2], altitude: null,
    altitudeAccuracy: null, heading: null, speed: null }, timestamp: f[3] });
  const fake = {
    watchPosition(good) { watches.set(++n, good); if (last) queueMicrotask(() => good(position(last))); return n; },
    clearWatch(id) { watches.delete(id); },
    getCurrentPosition(good, bad) { last ? good(position(last)) : bad?.({ code: 2, PERMISSION_DENIED: 1 }); },
  };
  Object.defineProperty(navigator, "geolocation", { value: fake });
  window.__fix = (...given) => {
    last = given; for (const good of watches.values()) good(position(last)); };
})();
"""


# A disk that takes nothing more, from the moment that the test says so.
FULL = """
(() => {
  const put = IDBObjectStore.prototype.put;
  IDBObjectStore.prototype.put = function (...given) {
    if (window.__full) throw new DOMException("Encountered full disk.", "QuotaExceededError");
    return put.apply(this, given);
  };
})();
"""

# Another database of the same origin grows until nothing goes in any more, first by the megabyte, then by less.
FILL_THE_DISK = """async () => {
  const db = await new Promise((done) => { const r = indexedDB.open("ballast", 1);
    r.onupgradeneeded = () => r.result.createObjectStore("b", { autoIncrement: true });
    r.onsuccess = () => done(r.result); });
  const add = (bytes) => new Promise((done) => {
    const raw = new Uint8Array(bytes);
    for (let k = 0; k < bytes; k += 65536) crypto.getRandomValues(raw.subarray(k, Math.min(bytes, k + 65536)));
    const tx = db.transaction("b", "readwrite"); tx.objectStore("b").put(raw);
    tx.oncomplete = () => done(null); tx.onabort = () => done(tx.error.name); });
  let told = null;
  for (const bytes of [4e6, 1e6, 1e5, 1e4, 1e3, 100])
    for (let n = 0; n < 60; n++) if ((told = await add(bytes)) !== null) break;
  db.close(); return told; }
"""


def clock_off(seconds: int) -> str:
    """A phone whose clock is so many seconds ahead."""
    return f"""
(() => {{
  const Right = Date, off = {seconds * 1000};
  class Wrong extends Right {{
    constructor(...given) {{ if (given.length) super(...given); else super(Right.now() + off); }}
    static now() {{ return Right.now() + off; }}
  }}
  window.Date = Wrong;
}})();
"""


def fix(page: Page, lon: float, lat: float, accuracy_m: float, t_s: float) -> None:
    page.evaluate("([lon, lat, m, t]) => window.__fix(lon, lat, m, t)", [lon, lat, accuracy_m, t_s * 1000])


def stored(page: Page, store: str) -> list[dict[str, Any]]:
    """Everything in one of the phone's stores."""
    return page.evaluate(  # type: ignore[no-any-return]
        """async (name) => {
          const db = await new Promise((done, fail) => { const r = indexedDB.open("tepal");
            r.onsuccess = () => done(r.result); r.onerror = () => fail(r.error); });
          const all = await new Promise((done, fail) => { const r = db.transaction(name).objectStore(name).getAll();
            r.onsuccess = () => done(r.result); r.onerror = () => fail(r.error); });
          db.close(); return all; }""",
        store,
    )


def lay_in(page: Page, entries: list[dict[str, Any]], photos: int = 0, photo_bytes: int = 0) -> list[str]:
    """Entries and photos as the app keeps them, in one go; the hashes of the photos."""
    return page.evaluate(  # type: ignore[no-any-return]
        """async ([entries, photos, bytes]) => {
          const hex = (b) => Array.from(new Uint8Array(b), (x) => x.toString(16).padStart(2, "0")).join("");
          const pictures = [];
          for (let i = 0; i < photos; i++) {
            const canvas = new OffscreenCanvas(64, 64); const c = canvas.getContext("2d");
            c.fillStyle = `rgb(${i * 40},90,60)`; c.fillRect(0, 0, 64, 64);
            const jpeg = new Uint8Array(await (await canvas.convertToBlob({ type: "image/jpeg" })).arrayBuffer());
            // What stands after the end mark of a JPEG is no picture, but bytes to be sent all the same.
            const raw = new Uint8Array(Math.max(bytes, jpeg.length)); raw.set(jpeg);
            for (let k = jpeg.length; k < raw.length; k += 65536)
              crypto.getRandomValues(raw.subarray(k, Math.min(k + 65536, raw.length)));
            const blob = new Blob([raw], { type: "image/jpeg" });
            const sha256 = hex(await crypto.subtle.digest("SHA-256", raw));
            pictures.push({ sha256, blob, type: blob.type, size: blob.size,
              made_at: new Date().toISOString(), sent: 0, state: "unsent" });
          }
          const db = await new Promise((done, fail) => { const r = indexedDB.open("tepal");
            r.onsuccess = () => done(r.result); r.onerror = () => fail(r.error); });
          const tx = db.transaction(["entries", "outbox", "photos"], "readwrite");
          for (const entry of entries) {
            tx.objectStore("entries").put({ id: entry.id, entry, here: true });
            tx.objectStore("outbox").put({ id: entry.id, entry, state: "unsent", tries: 0 });
          }
          for (const picture of pictures) {
            tx.objectStore("photos").put(picture);
            const entry = { id: crypto.randomUUID(), kind: "photo", site: "north-eighty",
              made_at: new Date().toISOString(),
              body: { sha256: picture.sha256, media_type: "image/jpeg", size_bytes: picture.size } };
            tx.objectStore("entries").put({ id: entry.id, entry, here: true });
            tx.objectStore("outbox").put({ id: entry.id, entry, state: "unsent", tries: 0 });
          }
          await new Promise((done, fail) => { tx.oncomplete = done; tx.onerror = () => fail(tx.error); });
          db.close(); return pictures.map((p) => p.sha256); }""",
        [json.loads(json.dumps(entries)), photos, photo_bytes],
    )
