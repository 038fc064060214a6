"""A real `tepal serve` on a small invented ledger, which a test can kill and start again."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
import urllib.request
from collections import Counter
from contextlib import suppress
from dataclasses import dataclass, field
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any

from _ports import free_port
from phone._served import FORKS, get_ready, run
from tepal.ledger import Entry, Ledger, entry

WEST, SOUTH = -96.1, 41.2
# About 400 m by 400 m; and one beside it where nobody may go in; and a place that is only a point.
NORTH_EIGHTY = [[WEST, SOUTH], [WEST + 0.0048, SOUTH], [WEST + 0.0048, SOUTH + 0.0036], [WEST, SOUTH + 0.0036]]
MIDDLE = (WEST + 0.0024, SOUTH + 0.0018)


def _ring(corners: list[list[float]], east: float = 0.0) -> dict[str, Any]:
    moved = [[lon + east, lat] for lon, lat in corners]
    return {"type": "Polygon", "coordinates": [[*moved, moved[0]]]}


def fill(path: Path) -> None:
    """North Eighty (walk it), Creek Bottom (nobody enters), Gravel Pit Forty (a point), and a call."""
    features = [{"kind": "gate", "name": "South gate", "geometry": {"type": "Point", "coordinates": [-96.0976, 41.2]}}]
    shared = {"county": "Larkmoor", "state": "NE", "ground": "field"}
    made = [
        entry("site", {"name": "North Eighty", "boundary": _ring(NORTH_EIGHTY), "features": features, **shared},
              by="office", site="north-eighty", made_at="2026-05-01T09:00:00-05:00"),
        entry("site", {"name": "Creek Bottom", "boundary": _ring(NORTH_EIGHTY, 0.006), **shared},
              by="office", site="creek-bottom", made_at="2026-05-01T09:00:00-05:00"),
        entry("site", {"name": "Gravel Pit Forty", "point": [WEST - 0.05, SOUTH], **shared},
              by="office", site="gravel-pit-forty", made_at="2026-05-01T09:00:00-05:00"),
        entry("done", {"what": "sprayed", "re_entry_until": "2099-06-19T07:00:00-05:00"},
              by="office", site="creek-bottom", made_at="2026-06-18T07:00:00-05:00"),
        entry("report", {"who": "a neighbour", "how": "call", "words": "Tall red stalks by the gate.",
                         "answer_by": "2099-06-20"},
              by="office", site="north-eighty", made_at="2026-06-17T10:00:00-05:00"),
    ]  # fmt: skip
    with Ledger.open(str(path), create=True) as ledger:
        ledger.add(made)


@dataclass
class Office:
    """The server, at one address for as long as the test lasts."""

    ledger: Path
    port: int = field(default_factory=free_port)
    process: BaseProcess | None = None
    codes: dict[str, str] = field(default_factory=dict)
    reckons: bool = False
    """Whether the desk may start processes of its own for its readings; most tests can do without them."""

    def link(self, name: str) -> str:
        """The link of an invitation that the ledger came with."""
        return f"{self.url}/join#{self.codes[name]}"

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    @property
    def phone(self) -> str:
        return f"{self.url}/phone/"

    def start(self) -> None:
        log = self.ledger.with_suffix(".log")
        get_ready()
        self.process = FORKS.Process(target=run, args=(self.ledger, self.port, log), daemon=not self.reckons)
        self.process.start()
        for _ in range(600):
            try:
                urllib.request.urlopen(f"{self.url}/openapi.json", timeout=5).close()
                return
            except OSError:
                assert self.process.is_alive(), log.read_text() if log.exists() else "it ended at once"
                time.sleep(0.05)
        raise AssertionError("the server did not start")

    def kill(self) -> None:
        """At once, in the middle of whatever it does."""
        if self.process is not None:
            # With what it has started: it leads a group of its own.
            assert self.process.pid
            with suppress(ProcessLookupError):
                os.killpg(self.process.pid, signal.SIGKILL)
            self.process.kill()
            self.process.join()
            self.process = None

    def invitation(self, name: str, role: str, *sites: str) -> str:
        """A link that lets one device in."""
        command = [sys.executable, "-m", "tepal", "invite", name, "--ledger", str(self.ledger), "--role", role]
        command += ["--url", self.url, "--json", *(part for site in sites for part in ("--site", site))]
        done = subprocess.run(command, capture_output=True, text=True, check=True)
        told = json.loads(done.stdout)
        return next(value for value in told.values() if isinstance(value, str) and "/join#" in value)

    def entries(self, kind: str | None = None) -> list[Entry]:
        """What the ledger holds; every id must be there once, or the store is broken."""
        with Ledger.open(str(self.ledger)) as ledger:
            found = list(ledger.entries())
        assert [id for id, times in Counter(e.id for e in found).items() if times > 1] == []
        return [e for e in found if kind is None or e.kind == kind]
