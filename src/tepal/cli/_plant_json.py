"""A call of `tepal plant` as JSON values."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tepal.cli._plant_place import later_json

if TYPE_CHECKING:
    from tepal.flora import Flora
    from tepal.plant import Call


def call_json(call: Call, flora: Flora) -> dict[str, Any]:
    """What the plant is, whether that is enough, what to look at next, and what it stands on."""
    return {
        "posterior": dict(zip(call.taxa, call.posterior.tolist(), strict=True)),
        "prior": dict(zip(call.taxa, call.prior.tolist(), strict=True)),
        "enough": call.enough,
        "next": [look.character for look in call.next],
        "next_details": [
            {
                "character": look.character,
                "gain": look.gain,
                "gain_per_s": look.gain_per_s,
                "seconds": look.seconds,
                "tool": look.tool,
            }
            for look in call.next
        ],
        "later": later_json(call, flora) if call.enough else None,
        "best": call.best,
        "one_of": list(call.group),
        "one_of_probability": call.group_probability if call.group else None,
        "stage": call.stage,
        "stages": dict(call.stages),
        "evidence": [
            {
                "character": item.character,
                "value": item.value,
                "toward": item.toward,
                "against": item.against,
                "log_odds": item.log_odds,
                "weight": item.weight,
                "basis": item.basis,
                "sources": list(item.sources),
            }
            for item in call.evidence
        ],
        "sources": list(call.sources),
    }


def why_json(call: Call, flora: Flora) -> dict[str, Any]:
    """Look by look, how much it moved the odds between the two leading names."""
    from tepal.plant import why

    found = why(call, flora)
    return {
        "one": found.one,
        "other": found.other,
        "odds_before": found.before,
        "looks": [
            {
                "character": push.character,
                "value": push.value,
                "odds_times": push.factor,
                "weight": push.weight,
                "basis": push.basis,
                "sources": [
                    {"key": key, "citation": flora.sources[key].citation if key in flora.sources else key}
                    for key in push.sources
                ],
            }
            for push in found.pushes
        ],
        "stages_times": found.of_stages,
        "odds_after": found.after,
    }
