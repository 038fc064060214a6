"""A hint is given only where it is really near."""

from __future__ import annotations

import pytest

from tepal.flora import STAGES, load
from tepal.tables import meant, near, nearest


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("nodal_spins", "nodal_spines"),
        ("Nodal Spines", "nodal_spines"),
        ("nodal-spine", "nodal_spines"),
        ("leaf_outlines", "leaf_outline"),
        ("petiole_blade_ratio_lowr", "petiole_blade_ratio_lower"),
        ("seed colour", "seed_colour"),
        ("flower colour", None),
        ("spikes", None),
        ("smell", None),
        ("", None),
        ("stem_hair", None),  # the start of two
        ("x" * 100_000, None),
    ],
)
def test_characters(typed: str, meant: str | None) -> None:
    assert near(typed, load().characters) == meant


@pytest.mark.parametrize(
    ("typed", "meant"),
    [("vegetated", "vegetative"), ("seedling", "seedling_2-4_leaf"), ("seedling 2-4 leaf", "seedling_2-4_leaf"),
     ("grown", None), ("flowering", None), ("mature", "mature_seed")],
)  # fmt: skip
def test_stages(typed: str, meant: str | None) -> None:
    assert near(typed, STAGES) == meant


def test_of_two_names_as_near_as_each_other_neither_is_named() -> None:
    assert near("AMAPX", ["AMAPA", "AMAPO"]) is None


def test_every_name_is_nearest_to_itself() -> None:
    names = tuple(load().characters)
    assert [near(name, names) for name in names] == list(names)


def test_a_name_that_begins_several_lists_at_most_four_of_them() -> None:
    known = [f"petiole_{part}" for part in ("a", "b", "c", "d", "e")]
    assert nearest("Petiole", known) == tuple(known)
    assert meant("petiole", known, "Look.") == "Did you mean petiole_a, petiole_b, petiole_c or petiole_d?"
    assert meant("petiole_bb", ["petiole_b", "ocrea"], "Look.") == "Did you mean petiole_b?"
    assert meant("roots", known, "Look.") == "Look."
