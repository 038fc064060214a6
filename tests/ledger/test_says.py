"""What an entry says is said in words of the reader's language and units: none of the record's own names."""

from __future__ import annotations

import re
from typing import Any, get_args

import pytest

from tepal.ledger import entry, says
from tepal.ledger._bodies import Ground, Role
from tepal.ledger._said import done_said, ground_said, roles_said, stage_said, step_said
from tepal.ledger._values import Stage
from tepal.words import Words

US, METRIC, SPANISH = Words(), Words("en", "metric"), Words("es", "metric")


def said(kind: str, body: dict[str, Any], words: Words, **more: Any) -> str:
    return says(entry(kind, body, by="x", site="creek"), words, **more)


def test_areas_are_told_in_the_readers_units() -> None:
    body = {"area_m2": 5.0, "counts": [{"taxon": "AMAPA", "count": 3}]}
    # A square foot is 0.3048² m²: 5 m² are 53.82 of them.
    assert said("stop", body, US, taxa={"AMAPA": "Palmer amaranth"}) == "Counted 3 Palmer amaranth on 54 square feet."
    assert said("stop", body, METRIC) == "Counted 3 AMAPA on 5 m²."
    assert "5 m²" in said("stop", body, SPANISH) and "on" not in said("stop", body, SPANISH).split()


def test_sizes_of_one_kind_are_told_as_one_number() -> None:
    tallies = [{"taxon": "pigweed", "size": size, "count": n} for size, n in (("seedling", 2), ("over_100_cm", 5))]
    assert said("stop", {"counts": tallies}, US) == "Counted 7 unnamed pigweed."


ONES = [
    ("done", {"what": "pulled"}, "Plants were pulled.", "Se arrancaron plantas."),
    ("done", {"what": "sprayed", "ingredients": [{"name": "2,4-D"}]}, "It was sprayed: 2,4-D.", "Se roció: 2,4-D."),
    ("sample", {"step": "made"}, "A sample was taken.", "Se tomó una muestra."),
    (
        "sample",
        {"step": "result", "resistant": {"9": "resistant"}},
        "The result of a sample: group 9 resistant.",
        "El resultado de una muestra: resistentes al grupo 9.",
    ),
    ("site", {"name": "Wall", "ground": "pivot_corner"}, "Wall, pivot corner: no place yet.", "Wall, esquina de "),
    ("party", {"name": "Al", "roles": ["may_be_told"]}, "Al (may be told): not asked about entering.", "Al (se le"),
    ("crop", {"year": 2026, "crop": "soybean"}, "Soybean 2026, trait not known.", "Soya 2026, "),
    ("plant", {"stage": "vegetative", "looks": {}}, "A plant, grown, not in flower: no looks.", "Una planta"),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "body", "english", "spanish"), ONES)
def test_it_is_a_sentence_in_both_languages(kind: str, body: dict[str, Any], english: str, spanish: str) -> None:
    assert said(kind, body, US) == english
    assert said(kind, body, SPANISH).startswith(spanish)


def test_every_name_of_the_record_has_words_in_both_languages() -> None:
    from tepal.ledger import Done, Sample

    tables = [
        (ground_said, get_args(Ground)),
        (lambda role, words: roles_said(words)[role], get_args(Role)),
        (done_said, get_args(Done.model_fields["what"].annotation)),
        (step_said, get_args(Sample.model_fields["step"].annotation)),
        (stage_said, get_args(Stage)),
    ]
    for say, names in tables:
        assert names
        for name in names:
            english, spanish = say(name, US), say(name, SPANISH)
            assert english != spanish, name
            assert not re.search("_", english + spanish)
