"""What `tepal plant` is told of the place and of the reader, and what it says of a whole stand."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tepal.tables import Refused, read_csv

if TYPE_CHECKING:
    from tepal.flora import Flora
    from tepal.plant import Call, Reader, Specimen

# The stand's draws are the same for the same plants.
_SEED = 4
_LISTED = 0.005


def local_weights(path: Path, flora: Flora, region: str | None) -> dict[str, float]:
    """The prior of a place from a table of what was found there and nearby: `code,by` and, where they are known,
    `years` ago, `metres` away, `plants` named."""
    from tepal.plant import Finding, local_prior

    table = read_csv(path)
    table.need(("code", "by"))
    findings = []
    for row in table:
        years, metres = (row.number(name, low=0.0, high=1e8, default=0.0) for name in ("years", "metres"))
        plants = int(row.number("plants", low=1.0, high=1e6, default=1.0))
        try:
            finding = Finding(row.text("code"), row.text("by"), years, metres, plants)  # type: ignore[arg-type]
            local_prior([finding], flora=flora, region=region)
        except Refused as refusal:
            raise refusal.at(row.where()) from None
        findings.append(finding)
    return local_prior(findings, flora=flora, region=region)


def reader(checked: str | None) -> Reader:
    """A reader whose answers were checked by drills or a laboratory: RIGHT,WRONG."""
    from tepal.plant import Reader

    if checked is None:
        return Reader()
    parts = checked.split(",")
    if len(parts) != 2 or not all(part.strip().isdigit() and len(part.strip()) <= 6 for part in parts):
        raise Refused(
            f"--checked {checked[:40]!r}",
            where="command line",
            rule="It is how many of your answers a drill or a laboratory found right, and how many wrong.",
            step="Write it like 47,3.",
        )
    right, wrong = (int(part) for part in parts)
    return Reader().after(right=right, wrong=wrong)


def later_json(call: Call, flora: Flora) -> dict[str, Any]:
    """What would still change what to do, where looking now would not."""
    from tepal.plant import later

    found = later(call, flora)
    return {
        "looks": [
            {"character": look.character, "stage": look.stage, "chance": look.chance, "gain": look.gain}
            for look in found.looks
        ],
        "laboratory": found.laboratory,
        "laboratory_chance": found.laboratory_chance,
    }


def stand(specimens: Sequence[Specimen], flora: Flora, who: Reader) -> dict[str, Any]:
    """The stand that the plants were taken from: shares with 90 % intervals, P(at least one of a hunted taxon), and how
    many more plants to look at to be 95 % sure that fewer than 1 in 100 are."""
    import numpy as np

    from tepal.plant import composition, identify

    if not specimens:
        raise Refused(
            "no plants",
            where="--stand",
            rule="A stand is told from its plants, at least one that can be named.",
            step="Correct the lines.",
        )
    calls = [
        identify(one.looks, stage=one.stage, region=one.region, prior=one.prior, flora=flora, reader=who)
        for one in specimens
    ]
    found = composition(calls, rng=np.random.default_rng(_SEED))
    hunted = tuple(flora.hunted())
    shares = {}
    for code in found.taxa:
        draws = found.share(code)
        if draws.mean() >= _LISTED or code in hunted:
            low, high = np.quantile(draws, (0.05, 0.95))
            shares[code] = {"mean": float(draws.mean()), "q05": float(low), "q95": float(high)}
    return {
        "stand": {
            "plants": len(calls),
            "shares": dict(sorted(shares.items(), key=lambda item: -item[1]["mean"])),
            "p_any": {code: found.p_any(code) for code in hunted},
            "more_to_look_at": {code: found.more_to_look_at(code) for code in hunted},
        }
    }
