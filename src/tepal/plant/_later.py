"""What would still change what to do when looking now would not: a look at a later stage, or a laboratory."""

from __future__ import annotations

from dataclasses import dataclass

from tepal.flora import STAGES, Flora
from tepal.plant._call import Call
from tepal.plant._looks import absent_on
from tepal.plant._losses import cost_of, loss_matrix
from tepal.plant._model import bind
from tepal.plant._next import look_rows, outcomes
from tepal.plant._roster import FloatArray
from tepal.plant._settings import Reader, Settings, load_settings

# A look that changes what to do less often than this is not worth waiting for.
_SELDOM = 0.05


@dataclass(frozen=True, slots=True)
class LaterLook:
    """A look that can be had from `stage` on: the drop in the expected loss of the best action, and how likely it is
    to change that action."""

    character: str
    stage: str
    gain: float
    chance: float
    seconds: float


@dataclass(frozen=True, slots=True)
class Later:
    """What would change what to do. `looks`: of the first later stage that has any, best first.

    `laboratory`: whether a sample now is worth its price; `laboratory_chance`: how likely it is to change what to do.
    """

    looks: tuple[LaterLook, ...]
    laboratory: bool
    laboratory_chance: float


def later(call: Call, flora: Flora, *, settings: Settings | None = None, reader: Reader | None = None) -> Later:
    """Looks of the stages to come, and a laboratory sample, by what they would change.

    The plant is what it is: its probabilities now are those before the later look.
    """
    settings, reader = settings or load_settings(), reader or Reader()
    risk = loss_matrix(flora, settings, call.likely_stage)[: len(flora.taxa)] @ call.posterior
    # A laboratory names it for good: what to do changes unless it is what was best anyway.
    changes = 1 - float(call.posterior[int(risk.argmin())])
    found: tuple[LaterLook, ...] = ()
    asked = {item.character for item in call.evidence}
    asked |= absent_on({item.character: item.value.split(", ") for item in call.evidence}, flora)
    for stage in STAGES[STAGES.index(call.likely_stage) + 1 :]:
        found = _looks(call, flora, settings, reader, stage, asked)
        if found:
            break
    return Later(found, bool(risk.min() > cost_of(flora, settings, "sample")), changes)


def _looks(  # noqa: PLR0917
    call: Call, flora: Flora, settings: Settings, reader: Reader, stage: str, asked: set[str]
) -> tuple[LaterLook, ...]:
    bound = bind(flora, settings, reader, stage, call.prior)
    table = outcomes(bound)
    loss = loss_matrix(flora, settings, stage)[: len(flora.taxa)]
    risk = loss @ call.posterior
    second = cost_of(flora, settings, "second")
    found = []
    for at, name in enumerate(table.characters):
        if name in asked:
            continue
        joint: FloatArray = look_rows(bound, at, 0) * call.posterior
        after = joint @ loss.T
        told = float(table.known[at] @ call.posterior)
        gain = told * float(risk.min() - after.min(axis=1).sum())
        chance = told * float(joint.sum(axis=1)[after.argmin(axis=1) != risk.argmin()].sum())
        if gain > second * table.seconds[at] and chance >= _SELDOM:
            found.append(LaterLook(name, stage, gain, chance, float(table.seconds[at])))
    return tuple(sorted(found, key=lambda look: -look.gain))
