"""What `tepal walk --walked` says: how sure that there are none."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from tepal.cli import _out

if TYPE_CHECKING:
    from tepal.ground import Frame
    from tepal.walk import Absence, Cleaned, Further


def plain(result: Absence, done: Sequence[Cleaned]) -> dict[str, Any]:
    """As JSON values."""
    return {
        "p_present": result.p_present,
        "density_upper95_per_ha": result.density_upper95_per_ha,
        "seen_share": result.seen_share,
        "assumed": result.assumed.in_words(),
        "found": result.found,
        "walked_m": result.walked_m,
        "hectares": result.hectares,
        "cleaned": {
            "jumps": sum(each.jumps for each in done),
            "gaps": sum(each.gaps for each in done),
            "paused_s": sum(each.paused_s for each in done),
            "clock_jumps": sum(each.clock_jumps for each in done),
        },
    }


def tell(result: Absence, done: Sequence[Cleaned], *, default_prior: bool) -> None:
    from tepal.words import Words

    words = Words()
    if result.found:
        _out.say(words.plural("You found one: they are there.", "You found {count}: they are there.", result.found))
    elif result.density_upper95_per_ha is None:
        _out.say("The walk saw nothing of this site, so it says nothing about it.")
    else:
        _out.say(
            words.t(
                "You saw none in the part you walked. That leaves {chance} that some are there.",
                chance=words.chance(result.p_present),
            )
        )
    _out.say(
        words.t(
            "You walked {length} and saw {share} % of the site as well as if you had stood on it.",
            length=words.length(result.walked_m),
            share=words.number(100 * result.seen_share, 0 if result.seen_share > 0.1 else 1),
        )
    )
    if result.density_upper95_per_ha is not None:
        most = result.density_upper95_per_ha * result.hectares
        _out.say(
            words.t("On the whole site there are, with 19 chances in 20, no more than {n} plants.", n=words.about(most))
        )
    if default_prior:
        _out.say("An even chance before the walk was taken because no --prior-present was given: set your own.")
    jumps, gaps = sum(each.jumps for each in done), sum(each.gaps for each in done)
    if jumps or gaps:
        _out.say(
            words.t(
                "In the track, {jumps} points that jumped were left out, and {gaps} gaps were taken as not walked.",
                jumps=words.number(jumps),
                gaps=words.number(gaps),
            )
        )
    _out.say(result.assumed.in_words())


def further_plain(more: Further | None, sure: float, frame: Frame) -> dict[str, Any] | None:
    """What else to walk, as JSON values; null where no walk does, or there was a find."""
    from tepal.cli._walk_plan import route_of

    if more is None:
        return None
    return {
        "sure": sure,
        "minutes": more.minutes,
        "metres": more.metres,
        "p_present": more.after.p_present,
        "seen_share": more.after.seen_share,
        "route": route_of(more.route, frame),
    }


def tell_further(more: Further | None, sure: float) -> None:
    from tepal.words import Words

    words = Words()
    percent = words.number(100 * sure, 0 if sure < 0.995 else 1)
    if more is None:
        _out.say(words.t("No walk of this kind makes it {percent} % sure that there are none.", percent=percent))
        return
    _out.say(
        words.t(
            "To be {percent} % sure, walk {length} more ({minutes} minutes) on ground not yet seen, and see none.",
            percent=percent,
            length=words.length(more.metres),
            minutes=words.number(more.minutes, 0),
        )
    )
