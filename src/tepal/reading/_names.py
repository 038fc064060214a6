"""Which pigweeds stand here: the plants looked at, named each with its doubt, brought to shares of the stand."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import numpy.typing as npt

from tepal.doubt import Provenance, summary
from tepal.flora import STAGES, Flora
from tepal.ledger import Entry, Plant, Sample, Stop, Walk, event_date
from tepal.plant import CANNOT_TELL, Call, Composition, Reader, composition, identify
from tepal.reading._activities import how_sure, names_a_species
from tepal.reading._beforehand import beforehand
from tepal.reading._elsewhere import Elsewhere
from tepal.reading._records import TaxonReading
from tepal.reading._sight import sight_names
from tepal.words import message

FloatArray = npt.NDArray[np.float64]

# A name written beside a count, without a look that could be checked, is right about so often (judgement: growers and
# scouts call most pigweeds by the commonest name).
_NAME_BY_EYE = 0.7
# A taxon that is not hunted is listed from this expected share on.
_LISTED_SHARE = 0.02
# Settled: one name is as good as proved among the plants looked at, and each other hunted one as good as ruled out.
SETTLED = 0.95
# Chance that a stand in which a taxon is common holds some of another one as well (judgement); times how common the
# other is in the region. If it does, its share is anything from one plant to all of them, log-uniform.
_MIXED = 0.3


@dataclass(frozen=True, slots=True, eq=False)
class Named:
    """What the plants looked at are, and what that makes of the stand.

    `season`: the year in which they were looked at, None where nobody has named any. `plants`: how many were looked at
    closely in that season; `by_sight`: names were only written beside counts. `shares` has shape (n, names of
    `composition`); `hunted_seen` shape = (n,): whether one of the hunted is among the plants named, in each draw.
    """

    season: int | None
    plants: int
    by_sight: bool
    calls: tuple[tuple[str, Call], ...]
    blank: Call
    composition: Composition
    shares: FloatArray
    picked: npt.NDArray[np.intp]
    hunted: tuple[str, ...]
    leading: str | None
    leading_hunted: str | None
    alike: tuple[str, ...]
    settled: bool
    next_looks: tuple[str, ...]
    p_hunted: float
    why: Provenance

    def columns(self, code: str) -> list[int]:
        """Columns of a taxon and of its crosses."""
        return [i for i, name in enumerate(self.composition.taxa) if code in name.split("x")]


def names(
    entries: Sequence[Entry],
    *,
    region: str | None,
    proved: Mapping[str, str],
    about: Elsewhere,
    as_of: date,
    flora: Flora,
    rng: np.random.Generator,
    n: int,
) -> Named:
    """The stand's composition from the plants named this season, else in the last one that has any, and laboratories.

    Plants of an earlier season left the seed of this one; but nobody has looked at this one's, and `season` says so.
    What was named before that season, and by laboratories nearby, makes the prior; each reader reads as well as drills
    and laboratories found.
    """
    season, plants, sight = _last_named(entries)
    before = beforehand(entries, about, season=season, region=region, as_of=as_of, flora=flora)
    blank = identify({}, region=region, prior=before.prior, flora=flora)
    tested = {
        entry.body.of: entry.body
        for entry in entries
        if isinstance(entry.body, Sample)
        and names_a_species(entry.body)
        and (season is None or event_date(entry).year >= season)
    }
    calls = []
    for entry, body in plants:
        call = identify(
            dict(body.looks),
            stage=stage_of(body),
            region=region,
            prior=before.prior,
            reader=before.readers.get(entry.by.casefold(), Reader()),
            flora=flora,
        )
        result = tested.pop(entry.id, None)
        if result is not None and result.taxon in call.taxa:
            # The laboratory had this very plant: one plant, one name.
            call = call.proved(result.taxon, sure=how_sure(result))
        calls.append((entry.id, call))
    rest = [entry for entry in entries if isinstance(entry.body, Sample) and entry.body in tested.values()]
    spoken = [*calls, *_by_sight(sight, blank), *_laboratory(rest, blank)]
    counts = [body.count for _, body in plants] + [1] * (len(spoken) - len(calls))
    found = composition([call for _, call in spoken] or [blank], rng=rng, counts=counts or None)
    picked = rng.integers(0, len(found.shares), n)
    shares = np.array(found.shares[picked])
    hunted = tuple(flora.hunted())
    columns = [i for i, name in enumerate(found.taxa) if set(name.split("x")) & set(hunted)]
    among = _among_named(found) if spoken else {}
    leading = max(among, key=lambda code: among[code]) if among else None
    settled, following = _settled(calls, found, hunted, proved)
    sources = dict.fromkeys(key for _, call in calls for key in call.sources)
    return Named(
        season=season,
        plants=sum(body.count for _, body in plants),
        by_sight=bool(spoken) and not calls,
        calls=tuple(calls),
        blank=blank,
        composition=found,
        shares=shares,
        picked=picked,
        hunted=hunted,
        leading=leading,
        leading_hunted=max(hunted, key=lambda code: (among.get(code, 0.0), blank.probability(code))),
        alike=_alike(leading, [body.stage for _, body in plants], proved, flora),
        settled=settled,
        next_looks=following,
        p_hunted=float(found.p_any(*[found.taxa[i] for i in columns])),
        why=Provenance(tuple(sources), "judgement", (*(key for key, _ in spoken), *before.entries)),
    )


def _among_named(found: Composition) -> dict[str, float]:
    """The expected share of each name among the plants named: what was seen, not what a region leads one to expect."""
    counts = np.array(found.counts, dtype=np.float64)
    return {
        code: float(((found.named == i) * counts).sum(axis=1).mean() / counts.sum())
        for i, code in enumerate(found.taxa)
    }


def _last_named(
    entries: Sequence[Entry],
) -> tuple[int | None, list[tuple[Entry, Plant]], list[tuple[Entry, Stop | Walk]]]:
    """The latest season with a name in it, its plants that have a look, its stops and walks that have a name."""
    plants = [(entry, entry.body) for entry in entries if isinstance(entry.body, Plant) and _has_look(entry.body)]
    stops = [
        (entry, entry.body) for entry in entries if isinstance(entry.body, (Stop, Walk)) and sight_names(entry.body)
    ]
    years = [event_date(entry).year for entry, _ in (*plants, *stops)]
    if not years:
        return None, [], []
    last = max(years)
    return (
        last,
        [(entry, body) for entry, body in plants if event_date(entry).year == last],
        [(entry, body) for entry, body in stops if event_date(entry).year == last],
    )


def _has_look(plant: Plant) -> bool:
    """Whether anything was seen of it that could speak for a name: a height or a stage alone cannot."""
    values = [v for value in plant.looks.values() for v in (value if isinstance(value, tuple) else (value,))]
    return any(value != CANNOT_TELL for value in values)


def taxa_readings(
    named: Named, *, shares: Mapping[str, FloatArray], plants: float | None, proved: Mapping[str, str], flora: Flora
) -> dict[str, TaxonReading]:
    """The taxa worth naming, likeliest first; the hunted ones always. `plants`: how many may stand here.

    `shares`: the hunted taxa's own draws (`hunted_shares`); the others' are those of the composition.
    """
    found = named.composition
    readings = []
    for i, code in enumerate(found.taxa):
        share = summary(shares[code] if code in shares else named.shares[:, i])
        if code in named.hunted or code in named.alike or share["mean"] >= _LISTED_SHARE:
            seen = 1.0 if code in proved else found.p_any(code) if named.season is not None else 0.0
            unseen = _among_the_rest(float(named.blank.prior[i]), named.plants, plants)
            readings.append(
                TaxonReading(
                    code,
                    english(code, flora),
                    1 - (1 - seen) * (1 - unseen),
                    seen,
                    share,
                    code in proved,
                    _parents(code, flora),
                )
            )
    readings.sort(key=lambda taxon: -taxon.share["mean"] if taxon.share else 0.0)
    return {taxon.code: taxon for taxon in readings}


def hunted_named(named: Named) -> tuple[FloatArray, float]:
    """Plants of the hunted taxa among those named, in each draw, shape = (n,); and how many were named in all."""
    counts = np.array(named.composition.counts, dtype=np.float64)
    if not named.plants:
        return np.zeros(len(named.picked)), 0.0
    columns = sorted({column for code in named.hunted for column in named.columns(code)})
    here = np.isin(named.composition.named[named.picked], columns)[:, : len(named.calls)]
    return (here * counts[: len(named.calls)]).sum(axis=1), float(counts[: len(named.calls)].sum())


def hunted_shares(named: Named, plants: float | None, rng: np.random.Generator) -> dict[str, FloatArray]:
    """Draws of each hunted taxon's share, shape = (n,): 0 in a draw in which it does not stand here at all.

    A draw in which it is among the plants named keeps the composition's share. Else it may stand among the rest, with
    the chance and the shares of `_among_the_rest`, or not.
    """
    found: dict[str, FloatArray] = {}
    n = len(named.picked)
    many = max(plants if plants is not None else 1e4, 2.0)
    for code in named.hunted:
        columns = named.columns(code)
        share = named.shares[:, columns].sum(axis=1)
        if named.season is not None:
            seen = np.isin(named.composition.named[named.picked], columns).any(axis=1)
            weight = float(named.blank.prior[named.composition.taxa.index(code)])
            there = rng.random(n) < _among_the_rest(weight, named.plants, plants)
            grid = np.exp(np.linspace(-np.log(many), 0.0, 400))
            chance = (1 - grid) ** named.plants
            rest = rng.choice(grid, size=n, p=chance / chance.sum()) if chance.sum() > 0 else np.zeros(n)
            share = np.where(seen, share, np.where(there, rest, 0.0))
        found[code] = share
    return found


def _alike(leading: str | None, stages: Sequence[str], proved: Mapping[str, str], flora: Flora) -> tuple[str, ...]:
    """The codes that cannot be told apart from the leading one at the most advanced stage seen (flora's table)."""
    order = {stage: place for place, stage in enumerate(STAGES)}
    latest = max((order[stage] for stage in stages if stage in order), default=0)
    for group in flora.inseparable:
        if leading in group.codes and leading not in proved and latest < order[group.before]:
            return group.codes
    return ()


def _among_the_rest(weight: float, looked_at: int, plants: float | None) -> float:
    """The chance that a taxon stands among the plants nobody looked at, given that none of `looked_at` is it.

    Present at first with chance m = 0.3 x its regional weight, at a share f log-uniform on [1/N, 1] of N plants; then
    P = m E[(1-f)^n] (1 - P0) / (m E[(1-f)^n] + 1 - m), with P0 the chance that no plant is left.
    """
    many = max(plants if plants is not None else 1e4, 2.0)
    left = max(many - looked_at, 0.0)
    if left < 1:
        return 0.0
    shares = np.exp(np.linspace(-np.log(many), 0.0, 400))
    missed = float(np.mean((1 - shares) ** looked_at))
    before = _MIXED * weight
    return before * missed / (before * missed + 1 - before)


def english(code: str, flora: Flora) -> str:
    """The English name of a taxon, a cross or `other`, as it stands in a sentence."""
    if code == "other":
        return message("something else")
    plain = _plain(code, flora)
    return plain[0] if len(plain) == 1 else "a cross of " + " and ".join(plain)


def _plain(code: str, flora: Flora) -> list[str]:
    # "waterhemp (tall and common)": what stands in brackets explains the name and is no part of it in a sentence.
    return [flora.taxa[parent].english_name.partition(" (")[0] for parent in code.split("x")]


def _parents(code: str, flora: Flora) -> tuple[str, ...]:
    return tuple(_plain(code, flora)) if "x" in code else ()


def _settled(
    calls: Sequence[tuple[str, Call]], found: Composition, hunted: Sequence[str], proved: Mapping[str, str]
) -> tuple[bool, tuple[str, ...]]:
    """Whether the plants looked at leave no question, and the looks that would help most, commonest first."""
    following = Counter(call.next[0].character for _, call in calls if call.next)
    order = tuple(name for name, _ in following.most_common())
    if proved:
        return True, order
    if not calls:
        return False, order
    chances = {code: found.p_any(code) for code in hunted}
    if any(1 - SETTLED < chance < SETTLED for chance in chances.values()):
        return False, order
    # A name that is as good as certain is no open question, whoever's it is.
    return any(found.p_any(code) >= SETTLED for code in found.taxa if code != "other") or not _open(calls), order


def _open(calls: Sequence[tuple[str, Call]]) -> bool:
    """No hunted plant in question: still open where most plants could be named better by a look that is worth it."""
    return sum(not call.enough for _, call in calls) > len(calls) / 2


def _by_sight(stops: Sequence[tuple[Entry, Stop | Walk]], blank: Call) -> list[tuple[str, Call]]:
    """Names written beside counts: one vote for each person, day and name, however many stops it was written at."""
    votes: dict[tuple[str, date, str], str] = {}
    for entry, stop in stops:
        for code in sight_names(stop):
            if code in blank.taxa:
                votes.setdefault((entry.by, event_date(entry), code), entry.id)
    return [(key, _told(blank, code, _NAME_BY_EYE)) for (_, _, code), key in votes.items()]


def _laboratory(samples: Sequence[Entry], blank: Call) -> list[tuple[str, Call]]:
    return [
        (entry.id, _told(blank, entry.body.taxon, how_sure(entry.body)))
        for entry in samples
        if isinstance(entry.body, Sample) and entry.body.taxon in blank.taxa
    ]


def stage_of(plant: Plant) -> str:
    """The stage to name a plant by: one in flower is `reproductive`, also where nobody wrote its stage."""
    return "reproductive" if plant.stage == "unknown" and plant.flowering else plant.stage


def _told(blank: Call, code: str, right: float) -> Call:
    """A call from a bare name: likelihood `right` for it, the rest spread over all others alike."""
    others = len(blank.taxa) - 1
    likelihood = np.where(np.array(blank.taxa) == code, right, (1 - right) / others)
    posterior = blank.posterior * likelihood
    return replace(blank, posterior=posterior / posterior.sum(), next=(), enough=True, evidence=())
