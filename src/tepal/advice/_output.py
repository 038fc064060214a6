"""Advice as JSON values, as lines for a terminal, and what stands behind each part."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from tepal.advice._fills import hours, seeds
from tepal.advice._items import Advice, Caution, Item
from tepal.advice._rules import ABOUT
from tepal.advice._waiting import DAYS
from tepal.doubt import Provenance
from tepal.words import Words

# Figures are kept to so many meaningful digits: more would be noise of the draws.
_DIGITS = 6
_PARTS = ("actions", "do_nots", "programme", "later")


def to_json(advice: Advice, words: Words | None = None) -> dict[str, Any]:
    """The advice as plain values: texts in `words` (English, US units if not given), figures in SI, dates ISO."""
    words = words or Words()
    parts = {part: [_item(item, words) for item in getattr(advice, part)] for part in _PARTS}
    return {
        "actions": parts["actions"],
        "do_nots": parts["do_nots"],
        "cautions": [_caution(caution, words) for caution in advice.cautions],
        "programme": parts["programme"],
        "later": parts["later"],
        "return_on": advice.return_on.isoformat() if advice.return_on else None,
        "waiting": _waiting(advice, words),
        "spray_days": _spray_days(advice, words),
    }


def provenance(advice: Advice) -> dict[str, Provenance]:
    """What stands behind each part of the advice, by its JSON pointer into a reading (`/advice/actions/0`)."""
    found = {f"/advice/{part}/{i}": item.stands_on for part in _PARTS for i, item in enumerate(getattr(advice, part))}
    found |= {f"/advice/cautions/{i}": Provenance(c.sources, c.basis) for i, c in enumerate(advice.cautions)}
    if advice.waiting is not None:
        found["/advice/waiting"] = advice.waiting.stands_on
    if advice.spray_days is not None:
        found["/advice/spray_days"] = advice.spray_days.stands_on
    return found or {"/advice": Provenance()}


def in_words(advice: Advice, words: Words) -> list[str]:
    """Lines for a terminal: what to do first, what not to do, cautions, later, the next seasons."""
    lines: list[str] = []
    lines += _part(words.t("What to do"), _numbered(advice.actions, words))
    costs = [part.text(words) for part in (advice.waiting, advice.spray_days) if part is not None]
    lines += _part(words.t("What waiting costs"), costs)
    lines += _part(words.t("What not to do"), _numbered(advice.do_nots, words))
    lines += _part(words.t("Take care"), _care(advice, words))
    for head, items in ((words.t("After that"), advice.later), (words.t("Next seasons"), advice.programme)):
        lines += _part(head, [_sentence(item, words) for item in items])
    return lines


def _numbered(items: Sequence[Item], words: Words) -> list[str]:
    return [line for i, item in enumerate(items, 1) for line in _lines(i, item, words)]


def _care(advice: Advice, words: Words) -> list[str]:
    """One paragraph for each thing that cautions are about: a long list is not read."""
    heads = {
        "people": words.t("People"),
        "spraying": words.t("Spraying"),
        "machines": words.t("Machines"),
        "place": words.t("The place"),
        "animals": words.t("Animals"),
        "law": words.t("The law"),
        "money": words.t("Money and contracts"),
    }
    told = {about: [c.text(words) for c in advice.cautions if c.about == about] for about in ABOUT}
    return [f"{heads[about]}: {' '.join(texts)}" for about, texts in told.items() if texts]


def _lines(number: int, item: Item, words: Words) -> list[str]:
    lines = [f"{number}. {_sentence(item, words)}"]
    if item.not_before is not None:
        # The label outranks every date of ours, so it stands beside the step itself.
        lines.append("   " + words.t("Nobody goes in before {re_entry}.", **item.fills.worded(words)))
    lines.append("   " + words.t("Why: {why}", why=item.why(words)))
    if item.fails_message:
        lines.append("   " + words.t("It fails by: {how}", how=item.fails(words)))
    if item.seed_kept_out and item.hours and item.seed_kept_out["q50"] >= 1:
        lines.append(
            "   "
            + words.t(
                "Keeps something like {seeds} seeds out of the ground, for {hours} of work. Both are rough.",
                seeds=seeds(item.seed_kept_out["q50"], words),
                hours=hours(item.hours["q50"], words),
            )
        )
    return lines


def _sentence(item: Item, words: Words) -> str:
    when = item.when(words)
    return f"{when[:1].upper()}{when[1:]}: {item.text(words)}" if when else item.text(words)


def _part(head: str, lines: list[str]) -> list[str]:
    return ["", head, *(f"  {line}" for line in lines)] if lines else []


def _caution(caution: Caution, words: Words) -> dict[str, Any]:
    return {
        "key": caution.key,
        "about": caution.about,
        "text": caution.text(words),
        "sources": list(caution.sources),
        "basis": caution.basis,
    }


def _item(item: Item, words: Words) -> dict[str, Any]:
    return {
        "id": item.id,
        "kind": item.kind,
        "text": item.text(words),
        "why": item.why(words),
        "fails": item.fails(words) or None,
        "by": item.by.isoformat() if item.by else None,
        "late": item.late,
        "same_day": item.same_day,
        "not_before": item.not_before.isoformat() if item.not_before else None,
        "cautions": list(item.cautions),
        "tags": list(item.tags),
        "seed_kept_out": _figures(item.seed_kept_out),
        "hours": _figures(item.hours),
        "seed_per_hour": None if item.seed_per_hour is None else _figure(item.seed_per_hour),
        "sources": list(item.stands_on.sources),
        "basis": item.basis,
        "reading_keys": list(item.reading_keys),
    }


def _waiting(advice: Advice, words: Words) -> dict[str, Any] | None:
    found = advice.waiting
    if found is None:
        return None
    return {
        "when": found.when,
        "from": found.start.isoformat(),
        "days": DAYS,
        "seeds": _figures(found.seeds),
        "text": found.text(words),
    }


def _spray_days(advice: Advice, words: Words) -> dict[str, Any] | None:
    found = advice.spray_days
    if found is None:
        return None
    return {
        "days": _figures(found.days),
        "p_none": _figure(found.none),
        "years": list(found.years),
        "text": found.text(words),
    }


def _figures(summary: Mapping[str, float] | None) -> dict[str, float] | None:
    return None if summary is None else {key: _figure(value) for key, value in summary.items()}


def _figure(value: float) -> float:
    return float(f"{value:.{_DIGITS}g}")
