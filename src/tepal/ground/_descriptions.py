"""A place as somebody claims it: a legal description, coordinates, a link from a telephone, or only words."""

from __future__ import annotations

from dataclasses import dataclass

from tepal.ground._coordinates import Coordinates
from tepal.ground._survey import Survey

_MOST_SIGNS = 4000  # what a person says of a place is shorter; the rest stays words


@dataclass(frozen=True, slots=True)
class ClaimedPlace:
    """What a text says of a place. `words` is the text as it was; what was not understood stands only there.

    `survey` has no coordinates: those are in the plats of the survey. `notes` are sentences on what was left as words,
    and why.
    """

    words: str
    survey: Survey | None = None
    point: Coordinates | None = None
    notes: tuple[str, ...] = ()

    @property
    def understood(self) -> bool:
        return self.survey is not None or self.point is not None

    def plain(self) -> dict[str, object]:
        """As JSON values."""
        point = self.point
        return {
            "words": self.words,
            "legal": None if self.survey is None else self.survey.plain(),
            "point": None if point is None else [point.lon, point.lat],
            "error_m": None if point is None else point.error_m,
            "read_as": None if point is None else point.text,
            "notes": list(self.notes),
        }


def describe_place(text: str) -> ClaimedPlace:
    """The place that a text names. It never fails: what is not understood is kept as words.

    >>> describe_place("SW 1/4 of NE 1/4 Sec. 7, T9N R3E").survey.text
    'SW¼ NE¼ Sec. 7, T9N R3E'
    >>> describe_place("41.5 N 93.2 W").point.text
    '41.500000 N, 93.200000 W'
    >>> describe_place("the corner by the old elevator").understood
    False
    """
    # Their many patterns take a while to compile, and most commands never read a place in words.
    from tepal.ground._coordinate_words import read_coordinates
    from tepal.ground._survey_words import plain_signs, read_survey

    plain = plain_signs(text[:_MOST_SIGNS])
    survey, span, notes = read_survey(plain)
    # The numbers of a section must not be read as degrees as well.
    remaining = plain if span is None else plain[: span[0]] + " " + plain[span[1] :]
    point, more = read_coordinates(remaining)
    return ClaimedPlace(text, survey, point, (*notes, *more))
