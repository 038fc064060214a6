"""Naming one plant, or thousands."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import numpy as np

from tepal.flora import Flora, load
from tepal.plant._call import Call, leading_stage
from tepal.plant._evidence import evidence_for
from tepal.plant._groups import group_of
from tepal.plant._looks import UNKNOWN, Look, absent_on, checked_looks, checked_stage
from tepal.plant._model import Bound, bounds_for, posterior_at, posterior_unknown
from tepal.plant._next import NextLook, enough
from tepal.plant._next import next_looks as _next_looks
from tepal.plant._roster import FloatArray, checked_prior, checked_region, roster
from tepal.plant._settings import Reader, Settings, load_settings
from tepal.tables import Refused

_READER = Reader()


@dataclass(frozen=True, slots=True)
class Specimen:
    """One plant to be named in a batch; `prior` replaces the region's weights."""

    looks: Mapping[str, Any]
    stage: str = UNKNOWN
    region: str | None = None
    prior: Mapping[str, float] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Batch:
    """Many plants named: `posterior` of shape (plants, names), NaN in the rows that are `refused` (row -> why).

    `next` and `enough` by row, where they were asked for.
    """

    taxa: tuple[str, ...]
    posterior: FloatArray
    refused: Mapping[int, Refused] = field(default_factory=dict)
    next: Mapping[int, tuple[NextLook, ...]] = field(default_factory=dict)
    enough: Mapping[int, bool] = field(default_factory=dict)


@lru_cache(maxsize=128)
def _bounds(
    flora: Flora,
    settings: Settings,
    reader: Reader,
    *,
    stage: str,
    region: str | None,
    prior: tuple[tuple[str, float], ...] | None,
) -> tuple[Bound, ...]:
    return bounds_for(flora, settings, reader, stage=stage, region=region, prior=None if prior is None else dict(prior))


def _key(prior: Mapping[str, float] | None, flora: Flora, settings: Settings) -> tuple[tuple[str, float], ...] | None:
    """A prior as a key of the cache, checked first: what is no weight may not be hashable either."""
    return None if prior is None else tuple(sorted(checked_prior(prior, roster(flora, settings)).items()))


def _absent(looks: Sequence[Look], flora: Flora) -> frozenset[str]:
    return absent_on({look.character: [state for state, _ in look.states] for look in looks}, flora)


def identify(
    looks: Mapping[str, Any],
    *,
    stage: str = UNKNOWN,
    region: str | None = None,
    prior: Mapping[str, float] | None = None,
    flora: Flora | None = None,
    reader: Reader = _READER,
    settings: Settings | None = None,
) -> Call:
    """Name one plant.

    Parameters
    ----------
    looks
        Character to state, number (in the table's unit), or a list of either for several leaves of the plant.
        `cannot_tell` changes no probability; such a look is only not asked for again.
    stage
        A growth stage, or `unknown`: then all stages are averaged over, by how well they fit the looks.
    region
        SE, CB, UM, SP or NE; None takes the mean of the regions.
    prior
        Code to weight, in place of the region's weights.

    Raises
    ------
    Refused
        For anything that is no name, state, stage, region or sensible number of the flora.
    """
    flora = flora or load()
    settings = settings or load_settings()
    at, region = checked_stage(stage), checked_region(region)
    checked = checked_looks(looks, flora)
    bounds = _bounds(flora, settings, reader, stage=at, region=region, prior=_key(prior, flora, settings))
    if len(bounds) == 1:
        posterior = posterior_at([checked], bounds[0])[0]
        stages = np.ones(1)
    else:
        both, by_stage = posterior_unknown([checked], bounds)
        posterior, stages = both[0], by_stage[0]
    lead = bounds[int(leading_stage(stages))]
    following = _next_looks(posterior, lead, tuple(looks), _absent(checked, flora))
    evidence = evidence_for(checked, lead, posterior)
    posterior.setflags(write=False)
    return Call(
        taxa=roster(flora, settings).names,
        posterior=posterior,
        prior=np.asarray(stages @ np.array([bound.prior for bound in bounds])),
        stage=at,
        stages=tuple((bound.told.stage, float(p)) for bound, p in zip(bounds, stages, strict=True)),
        region=region,
        enough=enough(following, lead),
        next=following,
        evidence=evidence,
        group=group_of(flora, lead.told.stage, posterior),
        sources=tuple(dict.fromkeys(key for item in evidence for key in item.sources)),
    )


def next_looks(
    looks: Mapping[str, Any],
    *,
    stage: str = UNKNOWN,
    region: str | None = None,
    prior: Mapping[str, float] | None = None,
    flora: Flora | None = None,
    reader: Reader = _READER,
    settings: Settings | None = None,
) -> tuple[NextLook, ...]:
    """The looks still to be had, best first: expected drop in the expected loss of acting wrongly, per second."""
    call = identify(looks, stage=stage, region=region, prior=prior, flora=flora, reader=reader, settings=settings)
    return call.next


def identify_many(
    specimens: Sequence[Specimen],
    *,
    flora: Flora | None = None,
    reader: Reader = _READER,
    settings: Settings | None = None,
    following: bool = False,
) -> Batch:
    """Name many plants, as `identify` does one. A bad one does not stop the rest.

    `following`: also the next looks and whether it is enough, which take ten times as long as the names.
    """
    flora = flora or load()
    settings = settings or load_settings()
    names = roster(flora, settings).names
    posterior = np.full((len(specimens), len(names)), np.nan)
    refused: dict[int, Refused] = {}
    further: dict[int, tuple[NextLook, ...]] = {}
    plain: dict[int, bool] = {}
    together: dict[Any, tuple[list[int], list[tuple[Look, ...]]]] = {}
    for row, specimen in enumerate(specimens):
        try:
            key = (
                checked_stage(specimen.stage),
                checked_region(specimen.region),
                _key(specimen.prior, flora, settings),
            )
            looks = checked_looks(specimen.looks, flora)
        except Refused as refusal:
            refused[row] = refusal
            continue
        rows, plants = together.setdefault(key, ([], []))
        rows.append(row)
        plants.append(looks)
    for key, (rows, plants) in together.items():
        at, region, prior = key
        bounds = _bounds(flora, settings, reader, stage=at, region=region, prior=prior)
        if len(bounds) == 1:
            posterior[rows], lead = posterior_at(plants, bounds[0]), np.zeros(len(rows), dtype=np.intp)
        else:
            posterior[rows], by_stage = posterior_unknown(plants, bounds)
            lead = leading_stage(by_stage)
        if following:
            for row, seen, at_stage in zip(rows, plants, lead, strict=True):
                bound = bounds[int(at_stage)]
                asked = tuple(specimens[row].looks)
                further[row] = _next_looks(posterior[row], bound, asked, _absent(seen, flora))
                plain[row] = enough(further[row], bound)
    posterior.setflags(write=False)
    return Batch(names, posterior, dict(sorted(refused.items())), further, plain)
