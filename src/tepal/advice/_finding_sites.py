"""Too few sites of action that work: in one pass, twice in a row, all season."""

from __future__ import annotations

from collections.abc import Sequence

from tepal.advice._finding import Finding, Judged
from tepal.advice._passes import Pass
from tepal.advice._population import Said, Verdict
from tepal.doubt import Provenance
from tepal.flora import ResistanceRow
from tepal.words import Words

_MIXING = Provenance(("Evans2016", "Norsworthy2012"), "review")


def of_sites(verdicts: tuple[Verdict, ...], *, done: bool) -> list[Finding]:
    acting = [v for v in verdicts if v.standing != "idle"]
    sure = [v.group for v in acting if v.standing == "sure"]
    if len(sure) >= 2:
        return []
    if not sure:
        return [Finding("nothing_counts", _nothing_was if done else _nothing_is, _survivors, _MIXING)]
    return [Finding("one_site", _one_was(sure[0]) if done else _one_is(sure[0]), _mixing, _MIXING)]


def _nothing_is(words: Words) -> str:
    return words.t("Nothing in this pass can be counted on. Change it, or plan to pull or cultivate instead.")


def _nothing_was(words: Words) -> str:
    return words.t("Nothing in this pass could be counted on. Do not repeat it; pull or cultivate what lives.")


def _one_is(group: int) -> Said:
    return lambda w: w.t("This pass stands on one site of action, group {group}. Add a second that works.", group=group)


def _one_was(group: int) -> Said:
    return lambda w: w.t("This pass stood on one site of action, group {group}. The next needs others.", group=group)


def _survivors(words: Words) -> str:
    return words.t("Plants that live through it are the ones that resist, and they make the next seed.")


def _mixing(words: Words) -> str:
    return words.t("In Illinois records mixing sites of action lowered the odds of resistant waterhemp.")


def same_again(one: Pass, verdicts: tuple[Verdict, ...], before: Sequence[Judged]) -> list[Finding]:
    """The pass leans on the one group that the pass before it leaned on, whether that is sure or in doubt."""
    if not before:
        return []
    now, last = _leans_on(verdicts), _leans_on(before[-1][1])
    if len(now) != 1 or now != last or one.kind == "residual":
        return []
    (group,) = now
    return [
        Finding(
            "same_again",
            lambda w: w.t("It leans on group {group}, as the pass before did. Use another that works.", group=group),
            lambda w: w.t("Each repeat of one site of action leaves more of the plants that live through it."),
            Provenance(("Norsworthy2012",), "review"),
        )
    ]


def _leans_on(verdicts: tuple[Verdict, ...]) -> set[int]:
    sure = {v.group for v in verdicts if v.standing == "sure"}
    return sure or {v.group for v in verdicts if v.standing in ("doubtful", "failed")}


def together(verdicts: tuple[Verdict, ...], metabolic: ResistanceRow | None) -> list[Finding]:
    """Several groups of one pass that plants may break down alike: they are no independent sites."""
    if metabolic is None:
        return []
    groups = [str(v.group) for v in verdicts if v.group in metabolic.groups and v.standing == "doubtful"]
    if len(groups) < 2:
        return []
    return [
        Finding(
            "several_at_once",
            lambda w: w.t(
                "Groups {groups} may fail together: do not count them as so many sites.", groups=w.listing(groups)
            ),
            lambda w: w.t(
                "Plants that break herbicides down resist several groups at once. Such plants are known in {states}. "
                "Ask for a test.",
                states=w.listing(metabolic.states),
            ),
            Provenance(metabolic.sources, metabolic.basis),
        )
    ]


def one_group_everywhere(passes: Sequence[Judged]) -> list[Finding]:
    leans = [_leans_on(verdicts) for one, verdicts in passes if one.kind == "post"]
    if len(leans) < 2 or any(len(groups) != 1 for groups in leans) or len(set.union(*leans)) > 1:
        return []
    (group,) = leans[0]
    return [
        Finding(
            "one_group_all_season",
            lambda w: w.t("Every pass on plants that are up leans on group {group}.", group=group),
            lambda w: w.t("One gene then ends the whole season's control."),
            _MIXING,
        )
    ]
