"""What a look at a ledger may find, and how it is told."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is not as it should be. `kind` is for programs, `where` names the thing (an entry's id, a photo,
    a table, a place in the log), `what` and `step` are sentences: what is wrong, what to do."""

    kind: str
    where: str
    what: str
    step: str


@dataclass(frozen=True, slots=True)
class Checked:
    """What was looked at and what was found. `waiting` are photos that came or were named within the last day, of which
    the other half has not come yet: phones send them one after the other."""

    findings: tuple[Finding, ...]
    entries: int = 0
    forgotten: int = 0
    batches: int = 0
    photos: int = 0
    last_seq: int = 0
    waiting: tuple[str, ...] = ()


@dataclass(slots=True)
class Seen:
    """What the rows of a store say of one another, gathered while they are gone through once."""

    findings: list[Finding] = field(default_factory=list)
    entries: dict[str, tuple[int, str | None, str]] = field(default_factory=dict)
    """Id → place in the log, site, kind."""
    places: list[int] = field(default_factory=list)
    points: list[tuple[str, str, str]] = field(default_factory=list)
    """An entry's id, the field by which it points at another, and the id it points at."""
    amending: list[tuple[str, str]] = field(default_factory=list)
    photos: dict[str, tuple[str, str]] = field(default_factory=dict)
    """Hash of a photo → the first entry that names it, and when that arrived."""
    sizes: dict[str, int] = field(default_factory=dict)
    """Hash of a photo → its size as its entry says."""
    forgotten: int = 0
    batches: int = 0

    def found(self, kind: str, where: str, what: str, step: str) -> None:
        self.findings.append(Finding(kind, where, what, step))
