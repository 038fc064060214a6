"""A programme over years: blocks of replicates, each by itself, so that threads and machines change nothing."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

from tepal.flora import Flora
from tepal.programme import GROUPS_BEYOND, Programme
from tepal.years._chance import shared_out
from tepal.years._cycle import Place, Seedbank, pass_year
from tepal.years._executor import InTurn, Runs
from tepal.years._genes import allele_share, hardy_weinberg
from tepal.years._loci import Loci, loci_of
from tepal.years._luck import Luck
from tepal.years._money import price_t, weed_free_t_ha
from tepal.years._plan import plan_of
from tepal.years._records import Projection, Tracks
from tepal.years._values import Published, Values

FloatArray = npt.NDArray[np.float64]

# Replicates of a block: it must not depend on the number of workers, as each block has its own streams. Small enough
# for the cache at three loci.
BLOCK = 1000
_M2_PER_HA = 10_000.0


def project(
    programmes: Sequence[Programme],
    *,
    flora: Flora,
    years: int = 10,
    replicates: int = 1000,
    seed: int = 1,
    runs: Runs | None = None,
) -> tuple[Projection, ...]:
    """Seasons ahead for each programme, all with the same luck: shape of tracks = (replicates, years).

    The same seed gives the same numbers, bit by bit, whatever `runs` (threads, processes, machines) carries them.

    Raises
    ------
    Refused
        If a programme has more genes than can be followed, or a taxon that the tables do not have.
    ValueError
        If there are no years or no replicates.
    """
    if years < 1 or replicates < 1:
        raise ValueError("at least one year and one replicate are needed")
    for programme in programmes:
        flora.taxon(programme.taxon, where=programme.name)
    blocks = blocks_of(replicates)
    tables = [Published.of(flora, programme.taxon) for programme in programmes]
    jobs = [
        (programme, known, years, Luck(seed, at, size))
        for programme, known in zip(programmes, tables, strict=True)
        for at, size in blocks
    ]
    done = iter((runs or InTurn()).map(_block, jobs))
    out = []
    for programme in programmes:
        parts = [next(done) for _ in blocks]
        out.append(Projection(programme, _groups(programme), _joined(parts)))
    return tuple(out)


def blocks_of(replicates: int) -> list[tuple[int, int]]:
    """Number and size of each block."""
    return [(at, min(BLOCK, replicates - at * BLOCK)) for at in range(-(-replicates // BLOCK))]


def _groups(programme: Programme) -> tuple[str, ...]:
    return (*programme.groups, *((GROUPS_BEYOND,) if programme.metabolic else ()))


def _block(job: tuple[Programme, Published, int, Luck]) -> Tracks:
    programme, tables, years, luck = job
    return tracks_of(programme, Values(tables, programme, luck), years)


def tracks_of(programme: Programme, values: Values, years: int) -> Tracks:
    """The replicates of one block."""
    luck, n = values.luck, values.luck.size
    loci = loci_of(programme, values)
    area = programme.field.hectares * _M2_PER_HA
    row = programme.field.row_cm
    plans = [plan_of(season, values, loci, row) for season in programme.season]
    counted = (
        None if programme.start.plants_m2 is None else programme.start.plants_m2.draws(luck.of("counted"), n) * area
    )
    seedbank, start_m2 = _start(programme, values, loci, area, counted)
    place = Place(values, loci, _outside(programme, values, loci), area)
    groups = programme.groups
    shape = (n, years)
    told = {name: np.zeros(shape) for name in ("seedbank_m2", "plants_m2", "seed_rain_m2", "yield_loss", "cost")}
    resistant = {group: np.zeros(shape) for group in _groups(programme)}
    escapes = {group: np.zeros(shape) for group in groups}
    grown, lost = np.full(shape, np.nan), np.zeros(shape)
    crops: list[str] = sorted({season.crop for season in programme.season})
    weed_free = {crop: weed_free_t_ha(programme, crop, values) for crop in crops}
    prices = {crop: price_t(programme, crop, values) for crop in weed_free}
    for year in range(1, years + 1):
        at = (year - 1) % len(plans)
        plan, here = plans[at], None
        if counted is not None and year == 1:
            plan, here = plan_of(programme.season[0], values, loci, row, counted=True), np.rint(counted)
        past = pass_year(seedbank, year, plan, place, here)
        seedbank = past.seedbank
        told["seedbank_m2"][:, year - 1] = seedbank.all.sum(axis=1) / area
        told["plants_m2"][:, year - 1] = past.plants_m2
        told["seed_rain_m2"][:, year - 1] = past.seed_rain_m2
        told["yield_loss"][:, year - 1] = values.loss(past.competing_m2, plan.lasting, plan.crop)
        told["cost"][:, year - 1] = plan.cost_ha
        for name in loci.names:
            resistant[name][:, year - 1] = allele_share(seedbank.all, loci.names.index(name), loci.count)
        for group in groups:
            escapes[group][:, year - 1] = _escape(past.came_up, plan.escape[group])
        full, price = weed_free[plan.crop], prices[plan.crop]
        if full is not None:
            loss = told["yield_loss"][:, year - 1]
            grown[:, year - 1] = full * (1 - loss)
            if price is not None:
                lost[:, year - 1] = full * loss * price
    return Tracks(
        **told, resistant=resistant, escapes=escapes, start_m2=start_m2,
        yield_t_ha=None if all(full is None for full in weed_free.values()) else grown,
        lost=lost if any(full is not None and prices[crop] is not None for crop, full in weed_free.items()) else None,
    )  # fmt: skip


def _start(
    programme: Programme, values: Values, loci: Loci, area: float, counted: FloatArray | None
) -> tuple[Seedbank, FloatArray]:
    luck, n, start = values.luck, values.luck.size, programme.start
    if start.seedbank_m2 is not None:
        total = start.seedbank_m2.draws(luck.of("seedbank"), n) * area
    else:
        assert counted is not None  # the programme's reader asks for one of the two
        total = counted / np.maximum(values.emerges, 1e-12)
    deep = start.deep_share.draws(luck.of("deep share"), n)
    shares = hardy_weinberg(loci.start)
    top = _founders(luck, "founders", np.rint(total * (1 - deep)), shares)
    below = _founders(luck, "deep founders", np.rint(total * deep), shares)
    # What they start with is whole too, so that "at or below the start" does not hang on a rounded seed.
    return Seedbank(top, below), (top + below).sum(axis=1) / area


def _founders(luck: Luck, name: str, total: FloatArray, shares: FloatArray) -> FloatArray:
    """Whole seeds of each genotype."""
    return shared_out(luck.of(name), total, shares)


def _outside(programme: Programme, values: Values, loci: Loci) -> FloatArray:
    """Allele shares beyond the field: as given, else as this field began."""
    out = loci.start.copy()
    for name, amount in programme.local.outside.items():
        if name in loci.names:
            out[:, loci.names.index(name)] = amount.draws(values.luck.of("outside", name), values.luck.size)
    return out


def _escape(came_up: FloatArray, left_alive: FloatArray) -> FloatArray:
    """Share of the plants coming up that the group would fail to kill."""
    total = came_up.sum(axis=1)
    left = np.einsum("ng,ng->n", came_up, left_alive)
    return np.asarray(np.divide(left, total, out=np.zeros_like(total), where=total > 0))


def _joined(parts: Sequence[Tracks]) -> Tracks:
    def over(get: Callable[[Tracks], FloatArray]) -> FloatArray:
        return np.concatenate([get(part) for part in parts])

    first = parts[0]
    return Tracks(
        over(lambda t: t.seedbank_m2),
        over(lambda t: t.plants_m2),
        over(lambda t: t.seed_rain_m2),
        over(lambda t: t.yield_loss),
        over(lambda t: t.cost),
        {group: over(lambda t, g=group: t.resistant[g]) for group in first.resistant},  # type: ignore[misc]
        {group: over(lambda t, g=group: t.escapes[g]) for group in first.escapes},  # type: ignore[misc]
        over(lambda t: t.start_m2),
        _over_some([part.yield_t_ha for part in parts]),
        _over_some([part.lost for part in parts]),
    )


def _over_some(parts: Sequence[FloatArray | None]) -> FloatArray | None:
    there = [part for part in parts if part is not None]
    return np.concatenate(there) if there else None
