"""The form of what speaks against a plan."""

from __future__ import annotations

from dataclasses import dataclass

from tepal.advice._passes import Pass
from tepal.advice._population import Said, Verdict
from tepal.doubt import Provenance

# A pass with what each of its groups can be counted for.
Judged = tuple[Pass, tuple[Verdict, ...]]


@dataclass(frozen=True, slots=True)
class Finding:
    """What speaks against a pass or a season: `rule` names it for programs."""

    rule: str
    text: Said
    why: Said
    stands_on: Provenance
