"""Golden cases for other implementations of the model: looks in, posterior, next looks and enough out."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from tepal.flora import REGIONS, STAGES, Flora, Measure, StateShares
from tepal.plant._identify import identify
from tepal.plant._looks import CANNOT_TELL, UNKNOWN, limits
from tepal.plant._settings import Settings, load_settings

CASES = 500
LEAST_GAIN = 1e-9
_MOST_LOOKS = 9
_SIGNIFICANT = 14


def golden(
    flora: Flora, *, settings: Settings | None = None, seed: int = 4, cases: int = CASES
) -> Iterator[dict[str, Any]]:
    """Cases of every kind: each stage and none given, each region and none, no look to nine of them, several leaves,
    "cannot tell", looks of other stages, coarse readings beside what they are read from, numbers beyond every plant.

    `gain` stands beside `next` in the same order. Looks that gain less than a thousand-millionth are left out: whether
    they gain at all, and in which order, would be told by rounding.
    """
    rng = np.random.default_rng(seed)
    for number in range(cases):
        stage = str(rng.choice([*STAGES, UNKNOWN]))
        region = None if rng.random() < 0.15 else str(rng.choice(REGIONS))
        looks = _looks(flora, stage, rng)
        call = identify(looks, stage=stage, region=region, flora=flora, settings=settings or load_settings())
        yield {
            "id": number,
            "stage": stage,
            "region": region,
            "looks": looks,
            "posterior": [_short(p) for p in call.posterior],
            "next": [look.character for look in call.next if look.gain > LEAST_GAIN],
            "gain": [_short(look.gain) for look in call.next if look.gain > LEAST_GAIN],
            "enough": call.enough,
        }


def _looks(flora: Flora, stage: str, rng: np.random.Generator) -> dict[str, Any]:
    """Looks at one make-believe plant: what its kind shows, now and then what it never shows."""
    kind = str(rng.choice(list(flora.taxa)))
    at = str(rng.choice(STAGES)) if stage == UNKNOWN else stage
    told = (
        flora.characters_at(at) if rng.random() < 0.8 else tuple(name for name, c in flora.characters.items() if c.look)
    )
    names = rng.permutation(np.array(told))[: int(rng.integers(0, _MOST_LOOKS + 1))]
    found: dict[str, Any] = {}
    for name in names.tolist():
        if rng.random() < 0.08:
            found[name] = CANNOT_TELL
            continue
        leaves = int(rng.integers(2, 4)) if rng.random() < 0.15 else 1
        seen = [_seen(flora, kind, name, at, rng) for _ in range(leaves)]
        found[name] = seen[0] if leaves == 1 else seen
    return found


def _seen(flora: Flora, kind: str, name: str, stage: str, rng: np.random.Generator) -> str | float:
    row = flora.look(kind, name, stage)
    states = flora.characters[name].states
    if states:
        if isinstance(row, StateShares) and rng.random() < 0.9:
            shares = np.array([row.shares.get(state, 0.0) for state in states])
            return str(rng.choice(states, p=shares / shares.sum()))
        return str(rng.choice(states))
    if isinstance(row, Measure) and rng.random() < 0.9:
        return round(float(max(rng.normal(row.mean, row.sd), 0.0)), 2)
    return round(float(rng.uniform(0, limits(flora).get(name, 100.0))), 2)


def _short(value: float) -> float:
    return float(f"{value:.{_SIGNIFICANT}g}")
