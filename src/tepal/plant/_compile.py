"""The model as one JSON object, for another implementation: the phone's. docs/compiled-tables.md tells every key.

What is written are the tables and the settings, not their products: a share and its pseudo-plants, a mean and its
doubt. The arithmetic on them is short, and stands in docs/rooms/plant.md ("To the last digit").
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from tepal import __version__
from tepal.flora import REGIONS, STAGES, Flora, Measure, StateShares
from tepal.plant._groups import inseparable_at
from tepal.plant._likelihood import rows_at
from tepal.plant._looks import limits
from tepal.plant._losses import cost_of, loss_matrix
from tepal.plant._model import bind
from tepal.plant._next import _NODES as NODES
from tepal.plant._next import outcomes
from tepal.plant._roster import Roster, prior_for, roster
from tepal.plant._settings import Reader, Settings, load_settings

FORMAT = 2
# Digits that are kept of a number that is reckoned; those of the tables are written as they are.
_DIGITS = 15


def compiled(flora: Flora, settings: Settings | None = None) -> dict[str, Any]:
    """Names, characters, priors, rows by stage, losses and settings. Lists and numbers only, ready for JSON."""
    settings = settings or load_settings()
    names = roster(flora, settings)
    return {
        "format": FORMAT,
        "tepal": __version__,
        "group": flora.group,
        "tables": flora.tables_hash,
        "names": list(names.names),
        "taxa": names.taxa,
        "crosses": names.parents.tolist(),
        "hunted": [names.names.index(code) for code in flora.hunted()],
        "regions": list(REGIONS),
        "settings": {
            name: settings(name)
            for name in (
                "base_mass", "misread_scale", "freedom", "leaf_correlation", "overlap_correlation", "borrowed_weight",
                "stage_misfit", "drawn_share", "asking_seconds",
            )
        } | {"reliability": Reader().reliability, "nodes": NODES},
        "weights": _weights(flora, settings, names),
        "costs": {name: cost_of(flora, settings, name) for name in ("sample", "second", "doubt")},
        "characters": {name: _character(flora, name) for name in flora.characters},
        "rows": _all_rows(flora, settings),
        "stages": {stage: _stage(flora, settings, stage) for stage in STAGES},
    }  # fmt: skip


def _weights(flora: Flora, settings: Settings, names: Roster) -> dict[str, Any]:
    """What makes a prior of the weights of a place, where the office has reckoned some."""
    return {
        "mean": [flora.weights(None).get(code, 0.0) for code in flora.taxa],
        "pigweed": [taxon.pigweed for taxon in flora.taxa.values()],
        "rates": names.rates.tolist(),
    } | {name: settings(name) for name in ("region_mix", "pollen_nearby", "cross_doubt", "other_weight")}


def _character(flora: Flora, name: str) -> dict[str, Any]:
    told = flora.characters[name]
    found: dict[str, Any] = {"seconds": told.seconds, "tool": told.tool, "look": told.look}
    if told.states:
        found |= {"states": list(told.states), "misread": told.misread}
    else:
        found |= {"unit": told.unit, "reading_cv": told.reading_cv, "most": limits(flora).get(name)}
    if told.overlap:
        found["overlap"] = told.overlap
    if told.binned_from:
        found["binned_from"] = told.binned_from
    if told.absent_where:
        found["absent_where"] = {
            other: [s for o, s in told.absent_where if o == other] for other, _ in told.absent_where
        }
    return found


def _all_rows(flora: Flora, settings: Settings) -> dict[str, dict[str, dict[str, list[float]]]]:
    """Rows by character and stage, of those stages that have their own: code to [c, shares…] or [mean, sd, q]."""
    found: dict[str, dict[str, dict[str, list[float]]]] = {}
    for name in flora.characters:
        for stage in STAGES:
            rows = {code: row for code in flora.taxa if (row := flora.look(code, name, stage)) is not None}
            if rows:
                told = {code: _row(flora, name, row, settings) for code, row in rows.items()}
                found.setdefault(name, {})[stage] = told
    return {name: _shared(by_stage) for name, by_stage in found.items()}


def _shared(by_stage: Mapping[str, dict[str, list[float]]]) -> dict[str, Any]:
    """Rows that are the same at several stages once; at the later ones the name of the first."""
    found: dict[str, Any] = {}
    for stage, rows in by_stage.items():
        first = next((at for at, other in found.items() if other == rows), None)
        found[stage] = rows if first is None else first
    return found


def _row(flora: Flora, name: str, row: StateShares | Measure, settings: Settings) -> list[float]:
    if isinstance(row, Measure):
        return [row.mean, row.sd, settings("mean_doubt", row.basis)]
    shares = (row.shares.get(state, 0.0) for state in flora.characters[name].states)
    return [settings("concentration", row.basis), *shares]


def _stage(flora: Flora, settings: Settings, stage: str) -> dict[str, Any]:
    bound = bind(flora, settings, Reader(), stage, prior_for(flora, settings, stage=stage))
    told_at = {name: rows_at(flora, name, stage) for name in flora.characters}
    return {
        "temper": settings("temper", stage),
        "from": {name: at for name, (at, rows) in told_at.items() if rows},
        "asked": list(outcomes(bound).characters),
        "priors": {
            region or "": _rounded(prior_for(flora, settings, stage=stage, region=region))
            for region in (None, *REGIONS)
        },
        "alike": flora.look_alike_weight(stage),
        "inseparable": [list(codes) for codes in inseparable_at(flora, stage)],
        "loss": loss_matrix(flora, settings, stage).tolist(),
    }


def _rounded(values: np.ndarray[Any, np.dtype[np.float64]]) -> list[float]:
    return [float(f"{value:.{_DIGITS}g}") for value in values]
