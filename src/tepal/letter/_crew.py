"""The crew card: one sheet, read standing, in two languages. What to pull and what to leave in four drawings, how,
when nobody may go in, heat, and the day of return.

It says what a crew must know at the field's edge and nothing of who owns what: names of people stay in the office.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from tepal.advice import Advice, Fills
from tepal.flora import Flora
from tepal.letter._crew_looks import Sign, signs
from tepal.letter._letter import Letter
from tepal.letter._runs import clip, dated
from tepal.plates import bare, draw
from tepal.reading import Reading
from tepal.tables import Refused
from tepal.words import Words

# A plant that may be one we hunt with this chance is pulled as one.
_MAY_BE = 0.2
# Days after a spraying for which somebody must have read the label before a crew goes in.
_LATELY = 7
# A plate's drawing ends here, in units of which it is 100 wide; below stand its figures and its scale bar.
_DRAWN = 101


@dataclass(frozen=True, slots=True)
class Picture:
    """One drawing and what it shows, in each language of the card."""

    svg: str
    alt: str
    captions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Point:
    """One thing to know: a word to find it by, and a sentence or two. `bars`: it keeps the crew out."""

    lead: str
    text: str
    bars: bool = False


@dataclass(frozen=True, slots=True)
class Side:
    """All words of one language. `asks` stands before the line for a telephone number."""

    language: str
    title: str
    pull: str
    leave: str
    points: tuple[Point, ...]
    date: str
    asks: str

    @property
    def words_beside(self) -> int:
        """How many words stand beside the drawings."""
        return sum(len(f"{point.lead} {point.text}".split()) for point in self.points)


@dataclass(frozen=True, slots=True)
class CrewCard:
    """One card: its sides in the order in which they stand, the drawings, the names in botany's own language."""

    paper: str
    site: str
    where: str
    botanical: tuple[str, ...]
    sides: tuple[Side, ...]
    pull: tuple[Picture, ...]
    leave: tuple[Picture, ...]


def crew_card(
    reading: Reading, advice: Advice, *, flora: Flora, languages: Sequence[str] = ("en", "es"), units: str = "us"
) -> Letter:
    """The card about one site on the day of its reading, as PDF, page and text. Same reading, same bytes.

    Raises
    ------
    Refused
        Where no plant that is hunted has been named: there is nothing for a crew to pull.
    """
    from tepal.letter._crew_set import crew_html, crew_pdf, crew_text

    card = _card(reading, advice, flora, [Words(language, units) for language in languages])  # type: ignore[arg-type]
    return Letter(pdf=crew_pdf(card, as_of=reading.as_of), html=crew_html(card), text=crew_text(card))


def _card(reading: Reading, advice: Advice, flora: Flora, tongues: Sequence[Words]) -> CrewCard:
    codes = _hunted_here(reading, flora)
    stage = str(reading.facts["stage"] or "vegetative")
    pull, leave = signs(flora, codes, stage=stage, region=reading.place.region)
    place = reading.place
    where = ", ".join(part for part in (place.legal, place.county and f"{place.county} County", place.state) if part)
    return CrewCard(
        paper="us-letter" if tongues[0].units == "us" else "a4",
        site=clip(place.name, 40),
        where=clip(where, 70),
        botanical=_botanical(codes, flora),
        sides=tuple(_side(reading, advice, flora, codes, words) for words in tongues),
        pull=tuple(_picture(flora, sign, tongues) for sign in pull),
        leave=tuple(_picture(flora, sign, tongues) for sign in leave),
    )


def _hunted_here(reading: Reading, flora: Flora) -> tuple[str, ...]:
    chance = reading.facts["p_hunted"]
    p = chance if isinstance(chance, float) else 0.0
    seen = {code: taxon.p_seen for code, taxon in reading.taxa.items() if code in flora.hunted()}
    codes = tuple(code for code, share in sorted(seen.items(), key=lambda item: -item[1]) if share >= _MAY_BE * p)
    if p < _MAY_BE or not codes:
        names = " or ".join(flora.taxa[code].english_name for code in flora.hunted())
        raise Refused(
            f"no crew card for {reading.place.name!r}",
            where="--for crew",
            rule=f"A crew is sent where a plant was named that is probably {names}.",
            step="Look at a plant there first, or write the letter for the tenant.",
        )
    return codes


def _picture(flora: Flora, sign: Sign, tongues: Sequence[Words]) -> Picture:
    plates = [draw(flora, sign.character, sign.state, words=words) for words in tongues]
    return Picture(_trimmed(bare(plates[0].svg)), plates[0].alt, tuple(plate.title for plate in plates))


def _botanical(codes: Sequence[str], flora: Flora) -> tuple[str, ...]:
    """Scientific names; a genus that was just written is its letter, as botany writes it."""
    names = [flora.taxa[code].scientific_name.partition(" (")[0] for code in codes]
    genera = [name.partition(" ")[0] for name in names]
    return tuple(
        f"{genus[0]}. {name.partition(' ')[2]}" if at and genera[at - 1] == genus else name
        for at, (name, genus) in enumerate(zip(names, genera, strict=True))
    )


def _trimmed(svg: str) -> str:
    """Without the foot of the sheet, where the scale bar stood."""
    return re.sub(r'viewBox="0 0 (\S+) \S+"', rf'viewBox="0 0 \1 {_DRAWN}"', svg, count=1)


def _side(reading: Reading, advice: Advice, flora: Flora, codes: Sequence[str], words: Words) -> Side:
    names = words.listing([words.t(flora.taxa[code].english_name.split(" (")[0]) for code in codes], last="or")
    return Side(
        language=words.language,
        title=words.t("Pull {plants}", plants=names),
        pull=words.t("Pull"),
        leave=words.t("Leave"),
        points=(
            *_first_find(advice, words),
            _entry(reading, advice, words),
            Point(words.t("How:"), words.t("root and all. Snapped? Dig. Unsure? Pull.")),
            Point(words.t("Bag:"), words.t("flowers or seed, into tied sacks that stay here.")),
            Point(words.t("Heat:"), words.t("water every 15 minutes, shade. Dizzy or confused: stop, call 911.")),
            Point(words.t("Always:"), _always(reading, words)),
            _return(advice, words),
        ),
        date=dated(words, reading.as_of),
        asks=words.t("Questions: call"),
    )


def _always(reading: Reading, words: Words) -> str:
    if reading.place.ground == "roadside":
        return words.t("gloves, bright vest, never alone.")
    return words.t("gloves, long sleeves, never alone.")


def _entry(reading: Reading, advice: Advice, words: Words) -> Point:
    """Whether they may go in. It stands first, and where the answer is no it is the one thing on the card in madder."""
    facts = reading.facts
    until = [item.not_before for item in advice.items() if item.not_before is not None]
    told = facts["re_entry_until"]
    if facts["re_entry_open"] and isinstance(told, datetime):
        until.append(told)
    if facts["consent"] is False:
        return Point(words.t("Do not go in:"), words.t("the owner has not agreed."), bars=True)
    if until:
        latest = max(until, key=lambda moment: moment if moment.tzinfo else moment.replace(tzinfo=UTC))
        when = Fills(re_entry=latest).worded(words)["re_entry"]
        return Point(words.t("Sprayed:"), words.t("do not go in before {re_entry}.", re_entry=when), bars=True)
    sprayed = facts["sprayed_days"]
    if told is None and isinstance(sprayed, float) and sprayed <= _LATELY:
        return Point(words.t("Do not go in:"), words.t("sprayed, label not read yet."), bars=True)
    return Point(words.t("Going in:"), words.t("ask first whether it was sprayed."))


def _first_find(advice: Advice, words: Words) -> tuple[Point, ...]:
    if not any(item.id.startswith("first_find") for item in advice.actions):
        return ()
    return (Point(words.t("Wait"), words.t("until the office has its specimen."), bars=True),)


def _return(advice: Advice, words: Words) -> Point:
    if advice.return_on is None:
        return Point(words.t("Back:"), words.t("in 14 days, on ______."))
    return Point(words.t("Back:"), words.t("on {day}.", day=words.day_month(advice.return_on)))
