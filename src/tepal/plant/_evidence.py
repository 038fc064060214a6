"""What spoke for and against: each look's push between the two leading names, with its sources."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tepal.doubt import Basis, weakest_basis
from tepal.flora import STAGES, Measure, StateShares
from tepal.plant._call import Evidence
from tepal.plant._looks import Look
from tepal.plant._model import Bound, weights_of
from tepal.plant._roster import FloatArray


def evidence_for(looks: Sequence[Look], bound: Bound, posterior: FloatArray) -> tuple[Evidence, ...]:
    """Each look's push between the two leading names, the strongest first.

    A cross of the leading taxon, or `other`, is no rival that a person would want to hear about: the next taxon is.
    """
    names, told = bound.told.roster.names, bound.told
    order = [int(i) for i in np.argsort(-posterior, kind="stable")]
    first = order[0]
    rivals = (i for i in order[1:] if i < told.roster.taxa and names[i] not in names[first].split("x"))
    second = next(rivals, order[1])
    found = []
    for look, weight in zip(looks, weights_of(looks, bound), strict=True):
        value = ", ".join(state for state, _ in look.states) if look.states else f"{look.value:g}"
        push = 0.0
        if weight and look.states:
            states, start = told.categorical[look.character].states, bound.first_row[look.character]
            for state, share in look.states:
                row = bound.log_rows(np.array([start + states[state]]), np.array([weight]))[0]
                push += share * float(row[first] - row[second])
        elif weight:
            given = (np.array([number]) for number in (look.value, float(look.leaves), weight))
            row = bound.log_measured(look.character, *given)[0]
            push = float(row[first] - row[second])
        rows = _rows_of(bound, look.character, names[first], names[second])
        bases: list[Basis] = [row.basis for row in rows]
        found.append(
            Evidence(
                look.character,
                value,
                names[first] if push >= 0 else names[second],
                names[second] if push >= 0 else names[first],
                abs(push),
                weight,
                tuple(dict.fromkeys(key for row in rows for key in row.sources)),
                weakest_basis(bases),
            )
        )
    return tuple(sorted(found, key=lambda item: -item.log_odds))


def _rows_of(bound: Bound, character: str, *names: str) -> list[StateShares | Measure]:
    """The table rows behind a look, for taxa or the parents of crosses."""
    flora = bound.flora
    codes = [code for name in names for code in (name.split("x") if name not in flora.taxa else [name])]
    stages = (bound.told.stage, *(stage for stage in STAGES if stage != bound.told.stage))
    rows = []
    for code in dict.fromkeys(codes):
        for at in stages[:1] if character in bound.told.own else stages:
            row = flora.look(code, character, at)
            if row is not None:
                rows.append(row)
                break
    return rows
