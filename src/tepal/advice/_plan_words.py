"""A checked plan in sentences, and as plain values."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from tepal.advice._plan_findings import Finding
from tepal.advice._population import Verdict
from tepal.advice._programme import CheckedPass, CheckedSeason, ProgrammeCheck
from tepal.flora import Flora
from tepal.words import Words

# What every page about spraying carries, in the order of the caution table.
CAUTIONS = ("label", "applicator", "re_entry", "neighbors", "water", "young_workers")


def plan_in_words(check: ProgrammeCheck, words: Words, *, flora: Flora) -> list[str]:
    """Lines for a terminal: the answer, then each season with its passes, then what else to know."""
    name = flora.taxa[check.taxon].english_name.partition(" (")[0]
    lines = [
        words.t("{plan}, against {weed}.", plan=check.name, weed=words.t(name))
        if check.name
        else words.t("What was sprayed, against {weed}.", weed=words.t(name)),
        _answer(check, words),
    ]
    if check.done:
        lines += ["", words.t("Sprayed this season"), *_passes(check.done, words)]
    for season in check.seasons:
        lines += ["", _season_head(season, words)]
        lines += [f"  {line}" for finding in season.findings for line in _told(finding, words)]
        lines += _passes(season.passes, words)
    lines += ["", words.t("What to know"), *(f"  {line}" for line in _notes(check, words, flora))]
    return lines


def plan_to_json(check: ProgrammeCheck, words: Words | None = None, *, flora: Flora) -> dict[str, Any]:
    """The check as plain values: texts in `words` (English, US units if not given), dates ISO, groups as numbers."""
    words = words or Words()
    return {
        "name": check.name,
        "taxon": check.taxon,
        "answer": _answer(check, words),
        "done": [_pass(one, words) for one in check.done],
        "seasons": [
            {
                "year": season.season.year,
                "crop": season.season.crop,
                "planted": season.season.planted.isoformat() if season.season.planted else None,
                "passes": [_pass(one, words) for one in season.passes],
                "findings": [_finding(finding, words) for finding in season.findings],
            }
            for season in check.seasons
        ],
        "notes": _notes(check, words, flora),
    }


def _answer(check: ProgrammeCheck, words: Words) -> str:
    passes = check.all_passes()
    if not passes:
        return words.t("There is no herbicide pass to check.")
    weak = sum(len(one.groups("sure")) < 2 for one in passes)
    others = sum(len(one.findings) for one in passes) + sum(len(season.findings) for season in check.seasons)
    if weak and len(passes) == 1:
        return words.t("The one pass stands on fewer than two sites of action that can be counted on.")
    if weak:
        return words.plural(
            "{count} of {all} passes stands on fewer than two sites of action that can be counted on.",
            "{count} of {all} passes stand on fewer than two sites of action that can be counted on.",
            weak,
            all=len(passes),
        )
    if others:
        return words.t("Each pass has two sites of action that can be counted on. Other things are told below.")
    return words.t(
        "Each pass has two sites of action that can be counted on, and nothing we know of speaks against it."
    )


def _season_head(season: CheckedSeason, words: Words) -> str:
    one = season.season
    crop = words.t(one.crop)
    if one.planted is None:
        return words.t("{year}, {crop}, planting day not known", year=one.year, crop=crop)
    if one.usual:
        return words.t("{year}, {crop}, planted about {day} (the usual time)", year=one.year, crop=crop,
                       day=words.day_month(one.planted))  # fmt: skip
    return words.t("{year}, {crop}, planted {day}", year=one.year, crop=crop, day=words.day_month(one.planted))


def _passes(passes: Sequence[CheckedPass], words: Words) -> list[str]:
    lines = []
    for number, one in enumerate(passes, 1):
        lines.append(f"  {number}. {_head(one, words)}")
        lines += [f"     {line}" for line in _counted(one.verdicts, words)]
        lines += [f"     {line}" for finding in one.findings for line in _told(finding, words)]
    return lines


def _head(checked: CheckedPass, words: Words) -> str:
    one = checked.one
    kind = {
        "residual": words.t("Residual"),
        "post": words.t("On plants that are up"),
        "sprayed": words.t("Sprayed"),
    }[one.kind]
    when = ""
    if one.on is not None:
        when = words.t(", {day}", day=words.day_month(one.on))
    elif one.days is not None:
        when = words.plural(", {count} day after planting", ", {count} days after planting", one.days)
    groups = words.listing([str(group) for group in one.groups])
    named = words.t(" ({names})", names=words.listing(one.ingredients)) if one.ingredients else ""
    told = words.plural("group {groups}", "groups {groups}", len(one.groups), groups=groups)
    return f"{kind}{when}: {told}{named}."


def _counted(verdicts: Sequence[Verdict], words: Words) -> list[str]:
    sure = [str(v.group) for v in verdicts if v.standing == "sure"]
    lines = [
        words.plural("Counts: group {groups}.", "Count: groups {groups}.", len(sure), groups=words.listing(sure))
        if sure
        else words.t("Counts: none.")
    ]
    heads = {"doubtful": words.t("In doubt"), "failed": words.t("Fails"), "idle": words.t("Does not count")}
    for standing, head in heads.items():
        told = [
            words.t("group {group} ({why})", group=v.group, why=v.why(words))
            for v in verdicts
            if v.standing == standing and v.why is not None
        ]
        if told:
            lines.append(f"{head}: {'; '.join(told)}.")
    return lines


def _told(finding: Finding, words: Words) -> list[str]:
    return [f"- {finding.text(words)}", "  " + words.t("Why: {why}", why=finding.why(words))]


def _notes(check: ProgrammeCheck, words: Words, flora: Flora) -> list[str]:
    notes = []
    if not check.weather:
        notes.append(
            words.t(
                "No site with a weather station was given: heights on the day and rain after residuals are not checked."
            )
        )
    if check.here.state is None and check.here.region is None:
        notes.append(
            words.t("State and region are not known: whether plants there break down several herbicides is left out.")
        )
    notes.append(
        words.t(
            "What counts here is what nothing on record speaks against. Only a test of these plants shows what works."
        )
    )
    return notes + [words.t(message) for message in _caution_messages(flora)]


def _caution_messages(flora: Flora) -> list[str]:
    from tepal.advice._advise import rules_for

    book = rules_for(flora)
    return [book.cautions[key].message for key in CAUTIONS if key in book.cautions]


def _pass(checked: CheckedPass, words: Words) -> dict[str, Any]:
    one = checked.one
    return {
        "kind": one.kind,
        "on": one.on.isoformat() if one.on else None,
        "days_after_planting": one.days,
        "groups": list(one.groups),
        "ingredients": list(one.ingredients),
        "sure": list(checked.groups("sure")),
        "doubtful": _why(checked, "doubtful", words),
        "failed": _why(checked, "failed", words),
        "idle": _why(checked, "idle", words),
        "findings": [_finding(finding, words) for finding in checked.findings],
    }


def _why(checked: CheckedPass, standing: str, words: Words) -> dict[str, str]:
    return {str(v.group): v.why(words) for v in checked.verdicts if v.standing == standing and v.why is not None}


def _finding(finding: Finding, words: Words) -> dict[str, Any]:
    return {
        "rule": finding.rule,
        "text": finding.text(words),
        "why": finding.why(words),
        "sources": list(finding.stands_on.sources),
        "basis": finding.stands_on.basis,
    }
