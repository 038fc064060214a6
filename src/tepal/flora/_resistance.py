"""What is known of resistance beyond the field: groups that most plants resist, plants that break several down.

Of one field a laboratory and a failed spraying speak; this table speaks of the state and the region around it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from tepal.doubt import Basis
from tepal.flora._cells import Folder, choice, whole_numbers
from tepal.flora._records import REGIONS
from tepal.tables import Refused

# widespread: assume that it fails unless a test says otherwise; metabolic: plants that break herbicides down, so that
# several groups weaken at once; weak: little use on the weed even where nothing resists.
ResistanceKind = Literal["widespread", "metabolic", "weak"]
RESISTANCE_KINDS: tuple[ResistanceKind, ...] = get_args(ResistanceKind)
_COLUMNS = ("code", "kind", "groups", "states", "region", "basis", "sources", "recalled", "note")


@dataclass(frozen=True, slots=True)
class ResistanceRow:
    """Groups (WSSA) that a taxon resists; `states`, `region`: where it was found, both empty: everywhere.

    `crops`: a weak group is so in these crops only, where what it has on leaves is weak; empty: in all.
    """

    code: str
    kind: ResistanceKind
    groups: tuple[int, ...]
    states: tuple[str, ...]
    region: str
    basis: Basis
    sources: tuple[str, ...]
    recalled: tuple[str, ...]
    note: str
    crops: tuple[str, ...] = ()

    def here(self, state: str | None, region: str | None) -> Literal["state", "region"] | None:
        """How near it was found: in this state, in its region, or neither."""
        if not self.states and not self.region:
            return "state"
        if state and state.upper() in self.states:
            return "state"
        return "region" if region and region == self.region else None


def read_resistance(folder: Folder) -> tuple[ResistanceRow, ...]:
    """resistance.csv; no row where the table is absent."""
    rows = []
    for row in folder.table("resistance.csv", _COLUMNS, required=False):
        groups = whole_numbers(row, "groups")
        if not groups:
            raise Refused(
                "no groups",
                where=row.where("groups"),
                rule="A row names the WSSA groups that it is about.",
                step="Fill it in.",
            )
        sources = folder.keys(row)
        rows.append(
            ResistanceRow(
                code=folder.code(row, "code"),
                kind=choice(row, "kind", RESISTANCE_KINDS),
                groups=groups,
                states=row.items("states"),
                region=choice(row, "region", ("", *REGIONS), default=""),
                basis=folder.basis(row, sources),
                sources=sources,
                recalled=folder.recalled(row, sources),
                note=row.text("note", ""),
                crops=row.items("crops"),
            )
        )
    return tuple(rows)
