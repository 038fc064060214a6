"""An office to test on: six people with a device each, two sites, and a server in the same process."""

from __future__ import annotations

import hashlib
import io
import shutil
import sqlite3
import warnings
from contextlib import closing
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from PIL import Image

from _recorded import sound
from tepal.ledger import Ledger, entry
from tepal.serve import Office, Settings, app
from tepal.serve._limits import Limits

with warnings.catch_warnings():
    # Its successor is not installed; what is used of it is the same.
    warnings.simplefilter("ignore")
    from starlette.testclient import TestClient

MADE = "2026-06-18T13:58:40-05:00"
OWN, OTHER = "creek-bottom", "north-eighty"
FIRST = datetime(2026, 6, 18, 19, 0, tzinfo=UTC)


@dataclass
class Clock:
    """A clock that stands until it is moved."""

    at: datetime = FIRST

    def __call__(self) -> datetime:
        return self.at

    def pass_(self, **time: float) -> None:
        self.at += timedelta(**time)


@dataclass
class World:
    """The office: `tokens` and `ids` by person, `made` the ids of entries by what they are."""

    ledger: Ledger
    settings: Settings
    office: Office
    clock: Clock
    client: TestClient
    tokens: dict[str, str] = field(default_factory=dict)
    ids: dict[str, str] = field(default_factory=dict)
    made: dict[str, str] = field(default_factory=dict)

    @property
    def limits(self) -> Limits:
        """How often one may ask."""
        made: Any = self.client.app
        found: Limits = made.state.limits
        return found

    def ask(self, who: str | None, method: str, path: str, **more: Any) -> Any:
        """A request of a person's program; None: of nobody."""
        headers = dict(more.pop("headers", {}))
        if who is not None:
            headers["authorization"] = f"Bearer {self.tokens[who]}"
        self.client.cookies.clear()
        return self.client.request(method, path, headers=headers, **more)

    def close(self) -> None:
        """Stop what the application has started."""
        made: Any = self.client.app
        for end in made.state.closing:
            end()

    def get(self, who: str | None, path: str, **more: Any) -> Any:
        return self.ask(who, "GET", path, **more)

    def hand_in(self, who: str, *entries: dict[str, Any]) -> list[dict[str, Any]]:
        """Send entries; the answers to them."""
        sent = self.ask(who, "POST", "/entries", json={"device_time": MADE, "entries": list(entries)})
        assert sent.status_code == 200, sent.text
        answers: list[dict[str, Any]] = sent.json()["answers"]
        return answers

    def seen(self, who: str) -> list[dict[str, Any]]:
        """All entries that a person is shown."""
        found: list[dict[str, Any]] = self.get(who, "/entries?limit=1000").json()["entries"]
        return found

    def add(self, name: str, kind: str, body: dict[str, Any], *, site: str | None = OWN, **more: Any) -> str:
        """An entry straight into the ledger, its id kept by `name`."""
        made = entry(kind, body, by=more.pop("by", "office"), site=site, made_at=MADE, **more)
        assert self.ledger.add([made]).added == 1
        self.made[name] = made.id
        return made.id

    def person(self, name: str, role: str, **more: Any) -> str:
        """Somebody with a device; the token."""
        made = self.office.add_person(name, role, now=self.clock(), **more)
        code = self.office.invite(made.id, now=self.clock(), lasts=timedelta(days=7)).code
        assert code is not None
        self.ids[name] = made.id
        self.tokens[name] = self.office.join(code, f"{name}'s device", now=self.clock())[0]
        return self.tokens[name]


def build(ledger: Ledger) -> World:
    """The office over an empty ledger."""
    clock = Clock()
    settings = Settings(
        office="Larkmoor County", hosts=("testserver", "localhost", "127.0.0.1"), zone="America/Chicago", now=clock
    )
    made = app(ledger, settings)
    client = TestClient(made, base_url="https://testserver", raise_server_exceptions=False)
    world = World(ledger, settings, made.state.office, clock, client)
    people = {"Cora": "coordinator", "Sam": "scout", "Tess": "scout", "Gil": "grower", "Lena": "laboratory"}
    for name, role in people.items():
        world.person(name, role, **({"laboratory": "Plant Lab"} if role == "laboratory" else {}))
    world.person("Lars", "laboratory", laboratory="Other Lab")
    for name in ("Sam", "Gil"):
        world.office.assign(world.ids[name], site=OWN, now=clock())
    world.office.assign(world.ids["Tess"], site=OTHER, now=clock())
    fill(world)
    return world


def again(world: World, folder: Path) -> World:
    """The same office once more, in a folder of its own, with the same people and tokens."""
    shutil.copytree(world.ledger.photos, folder / "photos")
    with closing(sqlite3.connect(world.ledger.where)) as connection:
        connection.execute("VACUUM INTO ?", (str(folder / "county.ledger"),))
    ledger = Ledger.open(folder / "county.ledger", photos=folder / "photos")
    clock = Clock()
    settings = replace(world.settings, now=clock)
    made = app(ledger, settings)
    client = TestClient(made, base_url="https://testserver", raise_server_exceptions=False)
    books = {"tokens": dict(world.tokens), "ids": dict(world.ids), "made": dict(world.made)}
    return World(ledger, settings, made.state.office, clock, client, **books)


def fill(world: World) -> None:
    """Two sites of which the same things are said."""
    for site, name in ((OWN, "Creek Bottom"), (OTHER, "North Eighty")):
        short = "own" if site == OWN else "other"
        world.add(f"{short} site", "site", {"name": name, "ground": "field", "region": "CB"}, site=site)
        world.add(f"{short} party", "party", {"name": f"Farmer of {name}", "roles": ["farms"]}, site=site)
        world.add(f"{short} stop", "stop", {"counts": [{"taxon": "pigweed", "count": 3}]}, site=site)
        world.add(f"{short} report", "report", {"how": "call", "words": f"Pigweeds at {name}"}, site=site)
        told = {"to": "the tenant", "signed_by": "Cora", "as_of": "2026-06-17", "text": f"About {name}."}
        world.add(f"{short} letter", "letter", told, site=site)
        lab = "Plant Lab" if site == OWN else "Other Lab"
        sent = {"step": "sent", "what": "leaf", "laboratory": lab, "test": "species", "words": f"from {name}"}
        world.add(f"{short} sample", "sample", sent, site=site)
        digest, raw = picture(10 if site == OWN else 200)
        body = {"sha256": digest, "media_type": "image/jpeg", "size_bytes": len(raw)}
        world.add(f"{short} photo", "photo", body, site=site)
        world.ledger.photos.mkdir(exist_ok=True)
        (world.ledger.photos / f"{digest}.jpg").write_bytes(raw)
        world.made[f"{short} picture"] = digest
        digest, raw = sound(short.encode())
        body = {"sha256": digest, "media_type": "audio/webm", "size_bytes": len(raw), "seconds": 3.0}
        world.add(f"{short} sound", "sound", body, site=site)
        (world.ledger.photos / f"{digest}.webm").write_bytes(raw)
        world.made[f"{short} recording"] = digest


def picture(shade: int, size: tuple[int, int] = (320, 240), **more: Any) -> tuple[str, bytes]:
    """A JPEG of one shade, and its hash."""
    out = io.BytesIO()
    Image.new("RGB", size, (shade, 90, 40)).save(out, "JPEG", **more)
    return hashlib.sha256(out.getvalue()).hexdigest(), out.getvalue()
