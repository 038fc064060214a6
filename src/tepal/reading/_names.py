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
from tepal.ledger import Entry, Plant, Sample, Stop, event_date
from tepal.plant import Call, Composition, composition, identify
from tepal.reading._records import TaxonReading

FloatArray = npt.NDArray[np.float64]

# A name written beside a count, without a look that could be checked, is right about so often (judgement: growers and
# scouts call most pigweeds by the commonest name).
_NAME_BY_EYE = 0.7
# A laboratory's word where it did not say how sure it is (judgement: samples are mixed up now and then).
_LABORATORY = 0.99
# A taxon that is not hunted is listed from this expected share on.
_LISTED_SHARE = 0.02
# Settled: one name is as good as proved among the plants looked at, and each other hunted one as good as ruled out.
_SETTLED = 0.95
# Chance that a stand in which a taxon is common holds some of another one as well (judgement); times how common the
# other is in the region. If it does, its share is anything from one plant to all of them, log-uniform.
_MIXED = 0.3


@dataclass(frozen=True, slots=True, eq=False)
class Named:
    """What the plants looked at are, and what that makes of the stand.

    `shares` has shape (n, names of `composition`); `hunted_share` shape = (n,).
    """

    plants: int
    calls: tuple[tuple[str, Call], ...]
    blank: Call
    composition: Composition
    shares: FloatArray
    hunted_share: FloatArray
    hunted: tuple[str, ...]
    leading: str | None
    leading_hunted: str | None
    alike: tuple[str, ...]
    settled: bool
    next_looks: tuple[str, ...]
    p_hunted: float
    why: Provenance


def names(
    entries: Sequence[Entry],
    *,
    region: str | None,
    as_of: date,
    proved: Mapping[str, str],
    flora: Flora,
    rng: np.random.Generator,
    n: int,
) -> Named:
    """The stand's composition from this season's plants (any season's where it has none) and laboratory results."""
    plants = [(entry, entry.body) for entry in entries if isinstance(entry.body, Plant)]
    this_season = [(entry, body) for entry, body in plants if event_date(entry).year == as_of.year]
    looked_at = this_season or plants
    calls: list[tuple[str, Call]] = []
    counts: list[int] = []
    for entry, body in looked_at:
        # JSON gives a list of leaves as a tuple; the plant room takes either.
        calls.append((entry.id, identify(dict(body.looks), stage=body.stage, region=region, flora=flora)))
        counts.append(body.count)
    blank = identify({}, region=region, flora=flora)
    spoken = [*calls, *_by_eye(entries, blank, as_of), *_laboratory(entries, blank)]
    counts += [1] * (len(spoken) - len(counts))
    found = composition([call for _, call in spoken] or [blank], rng=rng, counts=counts or None)
    shares = found.draws(rng, n)
    hunted = tuple(flora.hunted())
    columns = [i for i, name in enumerate(found.taxa) if set(name.split("x")) & set(hunted)]
    hunted_share = shares[:, columns].sum(axis=1)
    means = dict(zip(found.taxa, shares.mean(axis=0), strict=True))
    leading = max(means, key=lambda code: means[code]) if spoken else None
    settled, following = _settled(calls, found, hunted, proved)
    sources = dict.fromkeys(key for _, call in calls for key in call.sources)
    return Named(
        plants=sum(body.count for _, body in looked_at),
        calls=tuple(calls),
        blank=blank,
        composition=found,
        shares=shares,
        hunted_share=hunted_share,
        hunted=hunted,
        leading=leading,
        leading_hunted=max(hunted, key=lambda code: means.get(code, 0.0)),
        alike=_alike(leading, [body.stage for _, body in looked_at], proved, flora),
        settled=settled,
        next_looks=following,
        p_hunted=float(found.p_any(*[found.taxa[i] for i in columns])),
        why=Provenance(tuple(sources), "judgement", tuple(key for key, _ in spoken)),
    )


def taxa_readings(
    named: Named, *, plants: float | None, proved: Mapping[str, str], flora: Flora
) -> dict[str, TaxonReading]:
    """The taxa worth naming, likeliest first; the hunted ones always. `plants`: how many may stand here."""
    found = named.composition
    prior = (named.calls[0][1] if named.calls else named.blank).prior
    readings = []
    for i, code in enumerate(found.taxa):
        share = summary(named.shares[:, i])
        if code in named.hunted or code in named.alike or share["mean"] >= _LISTED_SHARE:
            seen = 1.0 if code in proved else found.p_any(code)
            unseen = _among_the_rest(float(prior[i]), named.plants, plants)
            readings.append(
                TaxonReading(code, english(code, flora), 1 - (1 - seen) * (1 - unseen), seen, share, code in proved)
            )
    readings.sort(key=lambda taxon: -taxon.share["mean"] if taxon.share else 0.0)
    return {taxon.code: taxon for taxon in readings}


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
        return "something else"
    # "waterhemp (tall and common)": what stands in brackets explains the name and is no part of it in a sentence.
    plain = [flora.taxa[parent].english_name.partition(" (")[0] for parent in code.split("x")]
    return plain[0] if len(plain) == 1 else "a cross of " + " and ".join(plain)


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
    if any(1 - _SETTLED < chance < _SETTLED for chance in chances.values()):
        return False, order
    return any(chance >= _SETTLED for chance in chances.values()) or not _open(calls), order


def _open(calls: Sequence[tuple[str, Call]]) -> bool:
    """No hunted plant in question: still open where most plants could be named better by a look that is worth it."""
    return sum(not call.enough for _, call in calls) > len(calls) / 2


def _by_eye(entries: Sequence[Entry], blank: Call, as_of: date) -> list[tuple[str, Call]]:
    """Names written beside counts, one vote a stop: a hundred plants called so by one person are one opinion."""
    found = []
    for entry in entries:
        if isinstance(entry.body, Stop) and event_date(entry).year == as_of.year:
            for code in dict.fromkeys(tally.taxon for tally in entry.body.counts if tally.count):
                if code in blank.taxa and code != "other":
                    found.append((entry.id, _told(blank, code, _NAME_BY_EYE)))
    return found


def _laboratory(entries: Sequence[Entry], blank: Call) -> list[tuple[str, Call]]:
    return [
        (entry.id, _told(blank, entry.body.taxon, entry.body.sure if entry.body.sure is not None else _LABORATORY))
        for entry in entries
        if isinstance(entry.body, Sample) and entry.body.step == "result" and entry.body.taxon in blank.taxa
    ]


def _told(blank: Call, code: str, right: float) -> Call:
    """A call from a bare name: likelihood `right` for it, the rest spread over all others alike."""
    others = len(blank.taxa) - 1
    likelihood = np.where(np.array(blank.taxa) == code, right, (1 - right) / others)
    posterior = blank.posterior * likelihood
    return replace(blank, posterior=posterior / posterior.sum(), next=(), enough=True, evidence=())
