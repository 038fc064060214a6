"""What the plants of one field are known or feared to resist, and what that makes of a site of action."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from tepal.doubt import Provenance
from tepal.flora import Flora, ResistanceRow
from tepal.reading import Reading, on_plants
from tepal.words import Words

if TYPE_CHECKING:
    from tepal.programme import Programme

Said = Callable[[Words], str]
# sure: nothing speaks against it; doubtful: it may fail; failed: a laboratory found resistance; idle: it does nothing
# here, on this weed or at this time.
Standing = Literal["sure", "doubtful", "failed", "idle"]
# A plan that gives so many resistant copies expects survivors (judgement: one plant in five to ten carries one).
_MANY_COPIES = 0.05
_SOIL = ("PRE", "PPI", "residual")
_LEAF = ("POST", "burndown", "directed", "layby", "hooded")


@dataclass(frozen=True, slots=True)
class Population:
    """One field's weed: `proved` by a laboratory here, `survived` sprayings here, `told` in the plan (share of
    resistant copies, high end), `broken_down`: groups that plants here are said to break down."""

    taxon: str
    proved: frozenset[int] = frozenset()
    survived: frozenset[int] = frozenset()
    told: Mapping[int, float] = field(default_factory=dict)
    broken_down: frozenset[int] = frozenset()
    state: str | None = None
    region: str | None = None


@dataclass(frozen=True, slots=True)
class Verdict:
    """What one group of one pass can be counted for, and why not more."""

    group: int
    standing: Standing
    why: Said | None
    stands_on: Provenance


def population(
    taxon: str,
    *,
    plan: Programme | None = None,
    reading: Reading | None = None,
    state: str | None = None,
    region: str | None = None,
) -> Population:
    """From the plan's own resistance, the site's laboratory results and the sprayings that plants lived through.

    A spraying whose survivors were seen puts every group of it in doubt: nobody knows which of them failed.
    """
    planted = reading.place.planted if reading else None
    survived = {
        int(item["group"])
        for line in (reading.done if reading else ())
        if line.what == "sprayed" and line.detail.get("survivors") and on_plants(line, planted)
        for item in line.detail.get("ingredients", ())
        if item["group"] is not None
    }
    proved = str(reading.facts["resistant_groups"] or "") if reading else ""
    told = {
        int(group): locus.allele_share.high
        for group, locus in (plan.resistance.items() if plan else ())
        if group.isdigit() and locus.allele_share is not None
    }
    return Population(
        taxon=taxon,
        proved=frozenset(int(part) for part in proved.split(",") if part.strip().isdigit()),
        survived=frozenset(survived),
        told=told,
        broken_down=frozenset(int(group) for group in (plan.metabolic.weakens if plan and plan.metabolic else ())),
        state=(reading.place.state if reading else None) or state,
        region=(reading.place.region if reading else None) or region,
    )


def verdict(group: int, here: Population, *, on_leaves: bool, flora: Flora, crop: str | None = None) -> Verdict:
    """What a group can be counted for on plants that are up (`on_leaves`) or on seedlings to come.

    `crop`: over which; some groups hold nothing in it that is worth much on the weed.
    """
    rows = [row for row in flora.resistance if row.code == here.taxon and group in row.groups]
    return _idle(group, rows, on_leaves, flora, crop) or _here(group, here) or _around(group, rows, here) or Verdict(
        group, "sure", None, Provenance()
    )  # fmt: skip


def _idle(group: int, rows: Sequence[ResistanceRow], on_leaves: bool, flora: Flora, crop: str | None) -> Verdict | None:
    timings = {part for item in flora.ingredients.values() if group in item.groups for part in item.timing}
    wanted = _LEAF if on_leaves else _SOIL
    if timings and not any(part.startswith(wanted) for part in timings):
        return Verdict(group, "idle", _does_nothing(on_leaves), Provenance(("USLabels",), "judgement"))
    for row in rows:
        if row.kind == "weak" and (not row.crops or (crop in row.crops and on_leaves)):
            return Verdict(group, "idle", lambda w: w.t("weak on pigweeds, even where nothing resists it"), _on(row))
    return None


def _here(group: int, here: Population) -> Verdict | None:
    """What this field's own record, or its plan, says."""
    said: tuple[tuple[bool, Standing, Said], ...] = (
        (group in here.proved, "failed", lambda w: w.t("a laboratory found resistance to it here")),
        (group in here.survived, "doubtful", lambda w: w.t("plants here lived through it")),
        (here.told.get(group, 0.0) >= _MANY_COPIES, "doubtful",
         lambda w: w.t("the plan itself counts with resistant plants")),
        (group in here.broken_down, "doubtful", lambda w: w.t("plants here may break it down")),
    )  # fmt: skip
    return next((Verdict(group, standing, why, Provenance()) for holds, standing, why in said if holds), None)


def _around(group: int, rows: Sequence[ResistanceRow], here: Population) -> Verdict | None:
    """What is known of the state and the region."""
    near = [(row, how) for row in rows if row.kind == "metabolic" and (how := row.here(here.state, here.region))]
    if near:
        row, how = min(near, key=lambda item: item[1] != "state")
        return Verdict(group, "doubtful", _broken_down(row, in_state=how == "state"), _on(row))
    for row in rows:
        if row.kind == "widespread" and row.here(here.state, here.region):
            why: Said = lambda w: w.t("resistance to it is widespread; count on it only after a test")  # noqa: E731
            return Verdict(group, "doubtful", why, _on(row))
    return None


def metabolic_here(here: Population, flora: Flora) -> ResistanceRow | None:
    """The nearest row of plants that break down several groups; of equals the one with the most groups."""
    order = {"state": 0, "region": 1}
    rows = [row for row in flora.resistance if row.code == here.taxon and row.kind == "metabolic"]
    near = [(order[how], -len(row.groups), row) for row in rows if (how := row.here(here.state, here.region))]
    return min(near, key=lambda item: item[:2])[2] if near else None


def _broken_down(row: ResistanceRow, *, in_state: bool) -> Said:
    """Where plants that break a herbicide down were found."""
    if in_state:
        return lambda w: w.t("plants that break it down are known in this state")
    return lambda w: w.t("plants that break it down are known in the region: {states}", states=w.listing(row.states))


def _does_nothing(on_leaves: bool) -> Said:
    if on_leaves:
        return lambda w: w.t("does nothing to plants that are up")
    return lambda w: w.t("no residual: it does nothing to seedlings to come")


def _on(row: ResistanceRow) -> Provenance:
    return Provenance(row.sources, row.basis)
