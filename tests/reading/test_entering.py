"""A walk without consent is warned about, by who had said what on that day."""

from __future__ import annotations

import pytest

from _books import AS_OF, book, said, site
from tepal.reading import read, warning_in_words
from tepal.words import Words


def _party(consent: bool | None, day: str | None, **more):
    body = {"name": "The tenant", "roles": ["farms"], "consent_to_enter": consent, "consent_on": day}
    return said("party", {k: v for k, v in body.items() if v is not None} | more, on="2026-06-01")


def _warned(tmp_path, *people):
    walk = said("walk", {"found": 0, "minutes": 30.0}, on="2026-06-20")
    with book(tmp_path, site(), walk, *people, with_weather=False) as made:
        return [line for line in read(made, "west", as_of=AS_OF).warnings if "walked" in line]


@pytest.mark.parametrize(
    ("people", "named"),
    [
        ([], "nobody on record"),
        ([_party(None, None)], "nobody on record"),
        ([_party(True, "2026-06-25")], "nobody on record"),
        ([_party(False, "2026-06-10")], "refused"),
        ([_party(True, "2026-05-10"), _party(False, "2026-06-10")], "refused"),
    ],
)
def test_a_walk_without_a_yes_is_warned_about(tmp_path, people, named):
    (line,) = _warned(tmp_path, *people)
    assert named in line and "2026-06-20" in line


@pytest.mark.parametrize(
    "people",
    [
        [_party(True, "2026-06-10")],
        [_party(True, None)],
        [_party(False, "2026-05-01"), _party(True, "2026-06-10")],
        [_party(True, "2026-06-10"), _party(False, "2026-06-25")],
    ],
)
def test_a_walk_with_a_yes_is_not(tmp_path, people):
    assert _warned(tmp_path, *people) == []


def test_it_is_told_in_the_reader_s_language(tmp_path):
    (line,) = _warned(tmp_path)
    assert warning_in_words(line, Words()) == (
        "The site was walked on Saturday, June 20, 2026 and nobody on record had said that it may be entered."
    )
    assert warning_in_words(line, Words("es")) == (
        "El lugar se caminó el sábado 20 de junio de 2026 y nadie de los anotados había dicho que se podía entrar."
    )
    assert warning_in_words("said by the tables", Words("es")) == "said by the tables"
