"""Which genes a programme is about, and what each genotype survives and pays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tepal.programme import GROUPS_BEYOND, Programme
from tepal.tables import Refused
from tepal.years._genes import copies
from tepal.years._values import Values

FloatArray = npt.NDArray[np.float64]
MOST_LOCI = 6


@dataclass(frozen=True, slots=True, eq=False)
class Loci:
    """Genes in a fixed order: sites of action by number, then the metabolic one.

    `start`: allele shares, shape = (n, L). `kept`: share of seed and pollen that a genotype keeps, (n, 3^L).
    """

    names: tuple[str, ...]
    start: FloatArray
    kept: FloatArray
    _dominance: FloatArray
    _left: FloatArray
    _weakens: dict[str, FloatArray]

    @property
    def count(self) -> int:
        return len(self.names)

    def survive(self, group: str, kill: FloatArray) -> FloatArray:
        """Share of each genotype that a group leaves alive, where it kills `kill` (n,) of the susceptible: (n, 3^L).

        Two copies are killed in the share `kill_left`, at most as much as the susceptible; one copy survives on the
        straight line between. The metabolic gene multiplies the kill in the same way.
        """
        factor = np.ones((kill.shape[0], 3**self.count))
        if group in self.names:
            at = self.names.index(group)
            left = np.divide(self._left[:, at], kill, out=np.ones_like(kill), where=kill > 0)
            factor = factor * self._line(at, np.minimum(left, 1.0))
        if group in self._weakens:
            factor = factor * self._line(self.names.index(GROUPS_BEYOND), self._weakens[group])
        return np.asarray(1 - kill[:, None] * factor)

    def _line(self, locus: int, two: FloatArray) -> FloatArray:
        one = 1 + self._dominance[:, locus] * (two - 1)
        return np.stack([np.ones_like(two), one, two], axis=1)[:, copies(self.count)[:, locus]]


def followed(programme: Programme, values: Values) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Groups whose genes are followed, and those left out, in the order of their numbers.

    Followed are the genes that the programme tells of, if they can be there at all; then those of the groups it uses
    for which a first share is published, the commonest first, while there is room. One that is left out is taken as
    having no resistant allele.

    Raises
    ------
    Refused
        If the programme itself tells of more than six: their genotypes would be too many to follow.
    """
    room = MOST_LOCI - (1 if programme.metabolic else 0)
    outside = {group for group, share in programme.local.outside.items() if share.high > 0} - {GROUPS_BEYOND}
    told = [
        group for group in programme.groups
        if group in outside or (group in programme.resistance and values.gene(group)[0].any())
    ]  # fmt: skip
    if len(told) > room:
        names = [*told, *([GROUPS_BEYOND] if programme.metabolic else [])]
        raise Refused(
            f"{len(names)} genes ({', '.join(names)})",
            where=programme.name,
            rule=f"At most {MOST_LOCI} are followed at once.",
            step="Leave out those to which least resistance is to be expected, or write allele_share = 0.",
        )
    open_ = [group for group in programme.groups if group not in programme.resistance and group not in told]
    shares = {group: values.usual_first_share(group) for group in open_}
    known = sorted((group for group in open_ if shares[group] > 0), key=lambda group: (-shares[group], int(group)))
    taken, left = known[: room - len(told)], known[room - len(told) :]
    return tuple(sorted([*told, *taken], key=int)), tuple(sorted(left, key=int))


def loci_of(programme: Programme, values: Values) -> Loci:
    """The genes that are followed, with what is known of each.

    Raises
    ------
    Refused
        If the programme itself tells of more than six.
    """
    used, _ = followed(programme, values)
    genes = {group: values.gene(group) for group in used}
    names = (*used, *((GROUPS_BEYOND,) if programme.metabolic else ()))
    n = values.luck.size
    rows = [genes[group] for group in used]
    if programme.metabolic:
        rows.append((*values.metabolic(programme.metabolic), np.zeros(n)))
    columns = [np.stack(column, axis=1) if column else np.zeros((n, 0)) for column in zip(*rows, strict=True)] or [
        np.zeros((n, 0))
    ] * 4
    start, dominance, cost, left = columns
    weakens = programme.metabolic.weakens if programme.metabolic else {}
    kept = np.ones((n, 3 ** len(names)))
    for at in range(len(names)):
        two = cost[:, at]
        paid = np.stack([np.zeros(n), dominance[:, at] * two, two], axis=1)
        kept *= 1 - paid[:, copies(len(names))[:, at]]
    return Loci(
        names,
        np.clip(start, 0.0, 1.0),
        kept,
        dominance,
        left,
        {group: amount.draws(values.luck.of("weakens", group), n) for group, amount in weakens.items()},
    )
