"""The Spanish catalogue: whole where it must be, its blanks those of the English, English where it has nothing."""

from __future__ import annotations

import string
from datetime import date
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po

import tepal.words
from tepal.flora import BASIS_WORDS, REGION_WORDS, STAGE_WORDS, load
from tepal.words import Words

LOCALES = Path(tepal.words.__file__).parent / "locale"
# What people see in the guided session, on plates, on the phone and on the crew card is whole; of the rest this share
# at least.
WHOLE = ("cli/_guide", "cli/plates", "letter/_crew", "leaf/_refusals", "phone/", "plant/", "plates/", "words/_words")
LEAST = 0.97


def read(path: Path) -> Catalog:
    with path.open("rb") as file:
        return read_po(file, locale=path.parents[1].name if path.suffix == ".po" else None)


@pytest.fixture(scope="module")
def template() -> Catalog:
    return read(LOCALES / "tepal.pot")


@pytest.fixture(scope="module")
def spanish() -> Catalog:
    return read(LOCALES / "es" / "LC_MESSAGES" / "tepal.po")


def forms(text: str | tuple[str, ...] | list[str]) -> list[str]:
    return [text] if isinstance(text, str) else list(text)


def blanks(text: str) -> set[tuple[str, str]]:
    """The {names} of a message, with the number in {cm:10}."""
    return {(name, spec or "") for _, name, spec, _ in string.Formatter().parse(text) if name is not None}


def test_every_blank_of_a_translation_is_one_of_the_english(spanish: Catalog) -> None:
    for message in spanish:
        if not message.id:
            continue
        allowed = [blanks(form) for form in forms(message.id)]
        for form in forms(message.string):
            assert blanks(form) in allowed, message.id


def test_every_form_of_a_translation_says_something(spanish: Catalog) -> None:
    for message in spanish:
        if message.id:
            assert len(forms(message.string)) == len(forms(message.id)), message.id
            # A message that is a blank stays one.
            assert all(form.strip() or not forms(message.id)[0].strip() for form in forms(message.string)), message.id


def test_the_share_that_is_translated(template: Catalog, spanish: Catalog, record_property) -> None:
    wanted = [message.id for message in template if message.id]
    share = sum(id_ in spanish for id_ in wanted) / len(wanted)
    record_property("translated", f"{share:.0%} of {len(wanted)}")
    assert share >= LEAST, f"{share:.0%} of {len(wanted)} messages are translated"


def test_what_the_crew_and_the_guided_session_show_is_whole(template: Catalog, spanish: Catalog) -> None:
    lacking = [
        message.id
        for message in template
        if message.id and message.id not in spanish
        and any(place.startswith(WHOLE) for place, _ in message.locations)
    ]  # fmt: skip
    assert lacking == []


def test_every_question_state_and_name_of_a_plant_is_there(spanish: Catalog) -> None:
    flora = load()
    texts = {*STAGE_WORDS.values(), *REGION_WORDS.values(), *BASIS_WORDS.values()}
    for taxon in flora.taxa.values():
        texts |= {taxon.english_name, *taxon.other_names}
    for character in flora.characters.values():
        if character.look:
            texts |= {character.label, character.question, *character.state_words.values()}
    assert sorted(text for text in texts if text not in spanish) == []


def test_questions_are_questions_and_begin_as_spanish_ones_do(spanish: Catalog) -> None:
    for message in spanish:
        if isinstance(message.id, str) and message.id.endswith("?"):
            assert message.string.endswith("?"), message.id
            assert "¿" in message.string, message.id


def test_two_states_of_one_character_do_not_become_the_same_words() -> None:
    words = Words("es")
    for character in load().characters.values():
        told = [words.t(text) for text in character.state_words.values()]
        assert len(set(told)) == len(told), character.name


def test_it_is_read_by_gettext_and_what_it_lacks_is_english() -> None:
    words = Words("es")
    assert words.t("a message that nobody ever wrote") == "a message that nobody ever wrote"
    assert words.day(date(2026, 8, 13)) == "jueves 13 de agosto"
    assert words.days_between(date(2026, 8, 3), date(2026, 8, 17)) == "3 al 17 de agosto"
    assert words.listing(["a", "b", "c"]) == "a, b y c"
    assert words.listing(["a", "b"], last="or") == "a o b"
    assert words.length(2.54) == "8.3 pies" or words.length(2.54).endswith("pies")
    assert words.chance(0.2) == "más o menos 1 de cada 5"
    assert words.area(4046.9) == "1 acre"
    assert words.area(40469) == "10 acres"


@pytest.mark.parametrize("units", ["us", "metric"])
def test_every_kind_of_value_has_words(units: str) -> None:
    words = Words("es", units)
    english = Words("en", units)
    for p in (0.001, 0.03, 0.2, 0.5, 0.7, 0.93, 0.999):
        assert words.chance(p) != english.chance(p)
        assert words.sureness(p) != english.sureness(p)
    for month in range(1, 13):
        assert words.day(date(2026, month, month)) != english.day(date(2026, month, month))


def test_a_day_with_its_year_is_told_as_people_say_it() -> None:
    for units in ("us", "metric"):
        assert Words("es", units).day(date(2026, 3, 20), year=True) == "viernes 20 de marzo de 2026"
