"""What to look at a second time: answers that exclude each other, numbers far from all published, one decisive state.

A reading error can be undone as long as the plant stands there. No probability changes by these sentences.
"""

from __future__ import annotations

from tepal.flora import Flora, Measure, StateShares
from tepal.plant._call import Call, Evidence
from tepal.plant._likelihood import rows_at
from tepal.plant._sentences import name_in_words
from tepal.words import Words

# A number so many times beyond the greatest published, or below the least, is more often a slip than a plant.
_FAR = 2.0
# What the tables give to no more than this share of a taxon they call impossible in it (they keep a residue of errors).
_NEVER, _USUAL = 0.005, 0.5
# A name surer than this needs no second look; below the other it does not hang on one state.
_SURE, _LIKELY = 0.98, 0.5


def look_again(call: Call, flora: Flora, words: Words) -> tuple[str, ...]:
    """Sentences, the gravest first; none where nothing seems misread."""
    told = [*_excluding(call, flora, words), *_far(call, flora, words)]
    return tuple(told or _decisive(call, flora, words))


def _excluding(call: Call, flora: Flora, words: Words) -> list[str]:
    """Answers about something that the plant, by another answer, has nothing of."""
    seen = {item.character: item.value for item in call.evidence}
    found: dict[str, list[str]] = {}
    for character in seen:
        for other, state in flora.characters[character].absent_where:
            if seen.get(other) == state:
                found.setdefault(flora.characters[other].state_words[state], []).append(
                    flora.characters[character].label
                )
    return [
        words.t(
            "A plant with {state} cannot show this: {looks}. One of the two was misread, or they are of two plants. "
            "Look again.",
            state=words.t(state),
            looks=words.listing([words.t(label) for label in labels]),
        )
        for state, labels in found.items()
    ]


def _far(call: Call, flora: Flora, words: Words) -> list[str]:
    """Numbers far outside of what is published of any taxon."""
    lines = []
    for item in call.evidence:
        character = flora.characters[item.character]
        rows = [
            row for (_, name, _), row in flora.measures.items() if name == item.character and isinstance(row, Measure)
        ]
        if character.states or not rows:
            continue
        low, high = min(row.low for row in rows), max(row.high for row in rows)
        if low / _FAR <= float(item.value) <= high * _FAR:
            continue
        lines.append(
            words.t(
                "{look}: {value} is far from all that is published ({low} to {high}). Check the ruler, the unit and "
                "the decimal point.",
                look=_begun(words.t(character.label)),
                value=item.value,
                low=words.number(low),
                high=words.number(high),
            )
        )
    return lines


def _decisive(call: Call, flora: Flora, words: Words) -> list[str]:
    """A state that the tables give to the leading taxon alone, while it is not sure yet: then it may be misread."""
    if not _LIKELY <= call.probability(call.best) < _SURE or call.best not in flora.taxa:
        return []
    for item in call.evidence:
        if _alone(item, call, flora):
            state = flora.characters[item.character].state_words[item.value]
            return [
                words.t(
                    "{look}: of these plants only {name} is known to have that. The doubt is whether it was read "
                    "rightly: look at two or three other places on the plant. If it is there too, that all but settles "
                    "it.",
                    look=_begun(words.t(state)),
                    name=name_in_words(call.best, flora, words),
                )
            ]
    return []


def _alone(item: Evidence, call: Call, flora: Flora) -> bool:
    character = flora.characters[item.character]
    if item.value not in character.states:
        return False
    told_at, rows = rows_at(flora, item.character, call.likely_stage)
    shares = {code: row.shares.get(item.value, 0.0) for code, row in rows.items() if isinstance(row, StateShares)}
    pigweeds = set(flora.pigweeds())
    return (
        told_at == call.likely_stage
        and shares.get(call.best, 0.0) >= _USUAL
        and pigweeds <= set(shares)
        and all(share <= _NEVER for code, share in shares.items() if code != call.best)
    )


def _begun(text: str) -> str:
    return text[:1].upper() + text[1:]
