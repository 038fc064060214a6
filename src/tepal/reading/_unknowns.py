"""What is not known and would change what to do, with the look or step that settles it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from tepal.flora import Flora
from tepal.ledger import Standing
from tepal.reading._crops import Grown
from tepal.reading._names import SETTLED, Named, english
from tepal.reading._numbers import Numbers
from tepal.reading._records import Fact, Unknown
from tepal.words import message


def unknowns(
    facts: Mapping[str, Fact],
    *,
    crop: Grown,
    named: Named,
    counted: Numbers,
    standing: Standing,
    flora: Flora,
    weather: bool,
) -> tuple[Unknown, ...]:
    """In the order in which they matter: what it is, may we enter, how many, the crop, the rest."""
    found: list[Unknown] = []
    if standing.disputes:
        found.append(Unknown("disputed", "choose", {"entries": list(standing.disputed)}))
    if counted.seen_any and not named.settled:
        found.append(_taxon(named, flora))
    if not counted.been_there:
        found.append(Unknown("walk", "walk"))
    if facts["consent"] is None:
        found.append(Unknown("consent", "ask"))
    if counted.been_there and counted.seen_any and counted.basis not in ("counts", "walk"):
        found.append(Unknown("number", "count"))
    if not facts["boundary_known"]:
        found.append(Unknown("boundary", "draw"))
    if facts["ground"] == "field":
        found += _crop(facts, crop)
    if facts["survivors"] and not facts["resistant_groups"] and not facts["sample_pending"]:
        found.append(Unknown("resistance", "sample", {"groups": facts["sprayed_groups"]}))
    if not weather:
        found.append(Unknown("weather", "station"))
    return tuple(found)


def _crop(facts: Mapping[str, Fact], crop: Grown) -> list[Unknown]:
    if facts["crop"] is None:
        return [Unknown("crop", "ask")]
    found: list[Unknown] = []
    if facts["crop_kind"] is None:
        found.append(Unknown("crop_table", "ask", {"crop": facts["crop"]}))
    if not facts["traits_known"] and facts["crop_kind"] != "none" and not facts["harvested"]:
        found.append(Unknown("trait", "ask", {"crop": facts["crop"]}))
    if crop.parts:
        parts = [f"{name} ({part})" for part, name in crop.parts]
        found.append(Unknown("crop_part", "ask", {"crops": parts, "crop": facts["crop"]}))
    if crop.replanted_from is not None:
        found.append(Unknown("replanted", "ask", {"before": crop.replanted_from, "crop": facts["crop"]}))
    return found


def _taxon(named: Named, flora: Flora) -> Unknown:
    looks: Sequence[str] = named.next_looks
    also = _also(named, flora)
    if not looks:
        return Unknown("taxon", "plant", {"words": message("a plant looked at closely"), **also})
    character = flora.characters[looks[0]]
    return Unknown("taxon", looks[0], {"words": character.label, "question": character.question, **also})


def _also(named: Named, flora: Flora) -> dict[str, object]:
    """The hunted taxon that is still in question where the leading name is not; empty where the name itself is open."""
    found = named.composition
    if named.season is None or named.leading is None or found.p_any(named.leading) < SETTLED:
        return {}
    others = {code: found.p_any(code) for code in named.hunted if code != named.leading}
    open_ = {code: chance for code, chance in others.items() if 1 - SETTLED < chance < SETTLED}
    if not open_:
        return {}
    likeliest = max(open_, key=lambda code: open_[code])
    return {"also": english(likeliest, flora), "chance": open_[likeliest]}
