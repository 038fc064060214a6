"""Readings made by hand, so that advice is tested without the rooms below it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from types import MappingProxyType

import numpy as np

from tepal.flora import load
from tepal.reading import Fact, Place, Reading, StandReading, fact_types

N = 2000
FACTS = fact_types(load().hunted())


def day(value: date) -> float:
    return float((value - date(value.year, 1, 1)).days)


def make(
    as_of: date,
    *,
    total: float | None = 60,
    tallest_cm: float | None = 80,
    viable: date | None = None,
    never: float = 0.0,
    share_palmer: float = 0.9,
    draws: Mapping[str, np.ndarray] | None = None,
    **facts: Fact,
) -> Reading:
    """A reading with the facts given (dots as double underscores) and draws around the numbers given."""
    rng = np.random.default_rng(7)
    made: dict[str, np.ndarray] = {}
    known: dict[str, Fact] = dict.fromkeys(FACTS, None)
    known |= {"as_of": as_of, "month": float(as_of.month)}
    if total is not None:
        made["total"] = np.round(total * np.exp(0.3 * rng.standard_normal(N)))
        known |= {"total": float(np.median(made["total"])), "total_q95": float(np.quantile(made["total"], 0.95))}
    if tallest_cm is not None:
        made["tallest_cm"] = tallest_cm * np.exp(0.08 * rng.standard_normal(N))
        known |= {
            "tallest_cm": float(np.median(made["tallest_cm"])),
            "tallest_cm_q90": float(np.quantile(made["tallest_cm"], 0.9)),
            "tallest_seen_cm": tallest_cm,
        }
    if viable is not None:
        days = day(viable) + 8 * rng.standard_normal(N)
        days[rng.random(N) < never] = np.nan
        made["viable_seed_day"] = days
        made["flower_day"] = days - 22
        known["p_viable_seed"] = float(np.mean(days <= day(as_of)))
    made |= {"share.AMAPA": np.full(N, share_palmer), "share.AMATU": np.full(N, 1 - share_palmer)}
    for key, value in facts.items():
        name = key.replace("__", ".")
        assert name in FACTS, name
        known[name] = value
    return Reading(
        site="S1",
        as_of=as_of,
        known_to=12,
        place=Place(name="North Eighty", ground=str(known["ground"] or "field")),
        taxa={},
        stand=StandReading(basis="counts"),
        windows=(),
        done=(),
        unknowns=(),
        facts=MappingProxyType(known),
        draws=MappingProxyType(made | dict(draws or {})),
        why={},
        tables="",
        version="",
    )


# A few tall plants in soybean in August, one of them in flower; Palmer amaranth, never proved here.
FIRST_FIND: dict[str, Fact] = {
    "ground": "field", "county": "Larkmoor", "region": "CB", "hectares": 32.0, "seen_any": True, "none_seen": False,
    "reported_only": False, "named_plants": 3.0, "p_hunted": 0.97, "p_any__AMAPA": 0.96, "p_any__AMATU": 0.05,
    "leading": "AMAPA", "first_find__AMAPA": True, "first_find__AMATU": False, "crop": "soybean", "crop_kind": "row",
    "traits_known": True,
    "harvested": False, "harvest_near": False, "flowering_seen": True, "stage": "reproductive", "row_cm": 76.2,
    "re_entry_open": False,
}  # fmt: skip
# The same weed, known here before: escapes that have not flowered.
ESCAPES: dict[str, Fact] = FIRST_FIND | {
    "first_find__AMAPA": False, "proved__AMAPA": True, "flowering_seen": False, "stage": "vegetative",
}  # fmt: skip
# Seedlings in young soybean.
SEEDLINGS: dict[str, Fact] = ESCAPES | {
    "p_hunted": 0.6, "p_any__AMAPA": 0.1, "p_any__AMATU": 0.55, "stage": "seedling_2-4_leaf",
    "days_since_planting": 24.0, "proved__AMAPA": False, "cultivable": True, "rows_crossable": True,
}  # fmt: skip

AUGUST = date(2026, 8, 12)
JULY = date(2026, 7, 8)
JUNE = date(2026, 6, 8)
AUTUMN = date(2026, 9, 20)


def first_find(**more: Fact) -> Reading:
    return make(
        AUGUST, total=8, tallest_cm=150, viable=date(2026, 8, 20), **{**FIRST_FIND, "where_hectares": 0.6, **more}
    )


def escapes(as_of: date = JULY, total: float = 60, tallest_cm: float = 70, **more: Fact) -> Reading:
    return make(
        as_of,
        total=total,
        tallest_cm=tallest_cm,
        viable=date(2026, 8, 20),
        **{**ESCAPES, **more},  # type: ignore[arg-type]
    )


def seedlings(as_of: date = JUNE, total: float = 4000, tallest_cm: float = 5, **more: Fact) -> Reading:
    return make(
        as_of, total=total, tallest_cm=tallest_cm, viable=date(2026, 8, 25), share_palmer=0.2,
        **{**SEEDLINGS, "window__height_10_cm__q10": date(2026, 6, 18), **more},  # type: ignore[arg-type]
    )  # fmt: skip


def off_field(ground: str, as_of: date = JULY, **more: Fact) -> Reading:
    """Escapes on ground that carries no crop."""
    more = {"crop": None, "traits_known": None, "harvested": None, "harvest_near": None, "row_cm": None} | more
    return escapes(as_of, ground=ground, **more)  # type: ignore[arg-type]


def off_ditch(**more: Fact) -> Reading:
    return off_field("ditch", **more)


def cover(as_of: date = date(2026, 4, 28), **more: Fact) -> Reading:
    """A rye cover in spring, seedlings under it."""
    return seedlings(
        as_of, total=300, tallest_cm=1.5,
        **{"crop": "rye cover", "crop_kind": "cover", "row_cm": None, "cultivable": None, **more},
    )  # fmt: skip


def stubble(as_of: date = JULY, tallest_cm: float = 40, **more: Fact) -> Reading:
    """Wheat stubble, ten days after harvest, with plants that have not flowered."""
    facts: dict[str, Fact] = {
        "crop": "wheat", "crop_kind": "small_grain", "harvested": True, "harvested_days": 10.0, "traits_known": None,
    }  # fmt: skip
    return escapes(as_of, tallest_cm=tallest_cm, **{**facts, **more})  # type: ignore[arg-type]


def nothing_seen(**more: Fact) -> Reading:
    facts: dict[str, Fact] = {
        "ground": "field", "hectares": 20.0, "seen_any": False, "none_seen": True, "reported_only": False,
        "seen_share": 0.7, "named_plants": 0.0, "window__next_flush__q10": date(2026, 6, 22),
    }  # fmt: skip
    return make(JUNE, total=None, tallest_cm=None, **{**facts, **more})


def by_telephone(**more: Fact) -> Reading:
    facts: dict[str, Fact] = {
        "ground": "field", "seen_any": False, "none_seen": False, "reported_only": True, "named_plants": 0.0,
        "p_hunted": 0.4, "photos": 0.0,
    }  # fmt: skip
    return make(JUNE, total=None, tallest_cm=None, **{**facts, **more})


MORNING = datetime(2026, 8, 14, 6, 0)
