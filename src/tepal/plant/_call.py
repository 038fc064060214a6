"""The answer for one plant."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from tepal.doubt import Basis
from tepal.plant._next import NextLook
from tepal.plant._roster import FloatArray


def leading_stage(stages: FloatArray) -> npt.NDArray[np.intp]:
    """Index of the likeliest stage, shape = (...) for stages of shape (..., stages).

    Of equals, to 1e-9, the one nearest the middle of a plant's life: rounding must not choose.
    """
    n = stages.shape[-1]
    order = np.array(sorted(range(n), key=lambda at: abs(at - n // 2)), dtype=np.intp)
    return np.asarray(order[np.round(stages, 9)[..., order].argmax(axis=-1)])


@dataclass(frozen=True, slots=True)
class Evidence:
    """One look: by how much it moved the log odds of the leading name against the second, and on what it stands."""

    character: str
    value: str
    toward: str
    against: str
    log_odds: float
    weight: float
    sources: tuple[str, ...]
    basis: Basis | None


@dataclass(frozen=True, slots=True, eq=False)
class Call:
    """Probabilities of the names of one plant (`posterior`, shape = (names,), sums to 1) and what to look at next.

    `taxa` holds taxa, crosses (`AMAPAxAMATU`) and `other`. `stage` is as given; `stages` its probabilities by name.
    `group` holds the codes that nobody can tell apart at this stage, when one of them leads; else it is empty.
    """

    taxa: tuple[str, ...]
    posterior: FloatArray
    prior: FloatArray
    stage: str
    stages: tuple[tuple[str, float], ...]
    region: str | None
    enough: bool
    next: tuple[NextLook, ...]
    evidence: tuple[Evidence, ...]
    group: tuple[str, ...]
    sources: tuple[str, ...]

    def probability(self, *codes: str) -> float:
        """The probability that the plant is one of these; a KeyError names a code that is none of ours."""
        for code in codes:
            if code not in self.taxa:
                raise KeyError(code)
        return float(sum(self.posterior[self.taxa.index(code)] for code in set(codes)))

    def hunted(self, codes: tuple[str, ...]) -> float:
        """The probability that the plant is one of these or has one of them for a parent."""
        return float(
            sum(p for name, p in zip(self.taxa, self.posterior, strict=True) if set(name.split("x")) & set(codes))
        )

    @property
    def best(self) -> str:
        """The likeliest name."""
        return self.taxa[int(np.argmax(self.posterior))]

    @property
    def likely_stage(self) -> str:
        """The stage, or the likeliest where it was not given."""
        return self.stages[int(leading_stage(np.array([p for _, p in self.stages])))][0]

    @property
    def group_probability(self) -> float:
        """The probability of `group` together; of the likeliest name where there is no group."""
        return self.probability(*self.group) if self.group else float(self.posterior.max())

    def proved(self, code: str, *, sure: float = 0.99) -> Call:
        """The call after a laboratory has named the plant with this sureness; the rest keeps its proportions."""
        at = self.taxa.index(code)
        if not 0 < sure <= 1:
            raise ValueError(f"sure lies in (0, 1], got {sure}")
        rest = np.delete(self.posterior, at)
        rest = rest / rest.sum() if rest.sum() > 0 else np.delete(self.prior, at) / (1 - self.prior[at])
        posterior = np.insert((1 - sure) * rest, at, sure)
        posterior.setflags(write=False)
        return replace(self, posterior=posterior, enough=True, next=(), group=())

    def draws(self, rng: np.random.Generator, n: int) -> npt.NDArray[np.intp]:
        """n indices into `taxa`, shape = (n,)."""
        return rng.choice(len(self.taxa), size=n, p=self.posterior)
