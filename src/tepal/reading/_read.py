"""From a ledger to a reading: which entries count, then names, numbers and dates, each from its own draws."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np

from tepal import __version__
from tepal.doubt import Provenance, generator_for, summary
from tepal.flora import Flora, load
from tepal.ledger import Ledger, Site, Standing, WeatherTable
from tepal.reading._activities import activities
from tepal.reading._crops import grown, standing_row
from tepal.reading._dates import dates
from tepal.reading._elsewhere import Elsewhere, elsewhere
from tepal.reading._entering import entered_unasked
from tepal.reading._facts import facts
from tepal.reading._law import LAW_KEYS, law_facts, law_sources
from tepal.reading._names import Named, hunted_named, hunted_shares, names, taxa_readings
from tepal.reading._numbers import Numbers, numbers
from tepal.reading._place import centre_of, first_place, grounded
from tepal.reading._records import DRAWS, FloatArray, Reading, StandReading, TaxonReading
from tepal.reading._station import heat_facts, station_record
from tepal.reading._unknowns import unknowns
from tepal.reading._where import where_hectares

# From this chance on that it is among the plants looked at, a hunted taxon gets its own dates, and its first proof
# in a county is worth a voucher and a call.
_DATED = _THOUGHT_HERE = 0.2


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """All that a reading is a function of, beside the published tables and the date."""

    standing: Standing
    weather: WeatherTable | None
    about: Elsewhere


def read(ledger: Ledger, site: str, *, as_of: date, known_to: int | None = None, flora: Flora | None = None) -> Reading:
    """The reading of a site on a day, from what had arrived up to `known_to` (all of it where not given).

    The same entries, tables, date and version give the same reading, to the byte.

    Raises
    ------
    Refused
        If the site is not on record by that day.
    """
    flora = flora or load()
    known = ledger.find_site(site).id
    # A place beyond the end of the ledger is its end: the same entries must give the same reading.
    known_to = ledger.last_seq if known_to is None else min(known_to, ledger.last_seq)
    return compose(gather(ledger, known, as_of=as_of, known_to=known_to), site=known, as_of=as_of, flora=flora)


def gather(ledger: Ledger, site: str, *, as_of: date, known_to: int | None = None) -> Evidence:
    """Everything that `compose` needs of the ledger."""
    standing = ledger.standing(site, as_of, known_to)
    return Evidence(standing, _station(ledger, standing), elsewhere(ledger, site, as_of, standing))


def compose(evidence: Evidence, *, site: str, as_of: date, flora: Flora) -> Reading:
    """The reading as a pure function of the evidence, the tables and the date."""
    standing, entries = evidence.standing, evidence.standing.entries
    ground = grounded(site, entries, as_of)
    place = ground.place
    # Each room has its own stream, so that a change in one does not move the draws of another. Neither the day nor the
    # length of the record is in it: where nothing new is known, no number moves from one morning to the next.
    streams = {room: generator_for("reading", room, site) for room in ("names", "numbers", "hunted", "dates")}
    record = station_record(evidence.weather, as_of)
    done = activities(entries, as_of, flora, place=place)
    crop = grown(entries, place, as_of, flora)
    counted = numbers(entries, ground, as_of, flora=flora, rng=streams["numbers"], n=DRAWS)
    named = names(
        entries,
        region=place.region,
        proved=done.proved,
        about=evidence.about,
        as_of=as_of,
        flora=flora,
        rng=streams["names"],
        n=DRAWS,
    )
    none_seen = counted.none_found
    plants = None if counted.total is None else float(np.median(counted.total))
    shares = hunted_shares(named, plants, streams["hunted"])
    nothing = none_seen or not (counted.seen_any or counted.told or named.season is not None or done.proved)
    taxa = {} if nothing else taxa_readings(named, shares=shares, plants=plants, proved=done.proved, flora=flora)
    draws = _stand_draws(counted, shares, hunted_named(named), streams["hunted"])
    stand = _stand(counted, draws)
    dated = dates(
        entries,
        ground=ground,
        taxa=_dated_taxa(named, taxa),
        weather=evidence.weather,
        as_of=as_of,
        flora=flora,
        rng=streams["dates"],
        n=DRAWS,
        crop=standing_row(place, crop.facts, flora),
    )
    draws |= dated.draws
    for column in draws.values():
        column.setflags(write=False)
    flat = facts(
        as_of=as_of,
        place=place,
        entries=entries,
        taxa=taxa,
        named=named,
        counted=counted,
        stand=stand,
        windows=dated.windows,
        draws=draws,
        activities=done.facts,
        crop=crop.facts,
        law=law_facts(place, taxa, as_of, flora),
        heat=heat_facts(record, as_of),
        where_hectares=where_hectares(entries, ground, as_of),
        hunted=flora.hunted(),
        first_find={
            code: _thought_here(named, taxa.get(code), as_of)
            and code not in done.proved
            and code not in evidence.about.proved
            for code in flora.hunted()
        },
    )
    open_questions = unknowns(
        flat,
        crop=crop,
        named=named,
        counted=counted,
        standing=standing,
        flora=flora,
        weather=evidence.weather is not None,
    )
    why = {"/place": ground.why, "/taxa": named.why, "/stand": counted.why | named.why}
    why |= {f"/windows/{i}": dated.why for i in range(len(dated.windows))}
    why |= {f"/done/{i}": Provenance(entries=(line.entry,)) for i, line in enumerate(done.lines)}
    why["/facts"] = ground.why | named.why | counted.why | dated.why | Provenance(entries=done.entries)
    legal = law_sources(place, taxa, flora)
    why |= {f"/facts/{key}": legal for key, value in flat.items() if key.startswith(LAW_KEYS) and value is not None}
    why["/unknowns"] = why["/facts"]
    return Reading(
        site=site,
        as_of=as_of,
        known_to=standing.known_to,
        place=place,
        taxa=taxa,
        stand=stand,
        windows=dated.windows,
        done=done.lines,
        unknowns=open_questions,
        facts=flat,
        draws=draws,
        why=why,
        tables=flora.tables_hash,
        version=__version__,
        warnings=(*dated.notes, *counted.notes, *entered_unasked(entries)),
        alike=() if none_seen else named.alike,
        alike_chance=named.composition.p_any(*named.alike) if named.alike else 0.0,
        station=record,
    )


def _stand_draws(
    counted: Numbers,
    shares: Mapping[str, FloatArray],
    named: tuple[FloatArray, float],
    rng: np.random.Generator,
) -> dict[str, FloatArray]:
    # A cross of both counts in either share, and once in their sum.
    hunted = np.minimum(np.sum(list(shares.values()), axis=0), 1.0)
    draws: dict[str, FloatArray] = {f"share.{code}": share.copy() for code, share in shares.items()}
    draws["share.hunted"] = hunted
    if counted.total is not None:
        draws["total_all"] = counted.total
        # Whole plants: of seven pigweeds, a share of 0.9 is six or seven hunted ones, not 6.3.
        whole = np.round(counted.total)
        # The plants named are what they are in this very draw; only of the others is the share drawn. Once some were
        # pulled, nobody knows which are left.
        sure, looked_at = (np.zeros_like(hunted), 0.0) if counted.after_work else named
        rest = np.maximum(whole - looked_at, 0.0).astype(np.int64)
        draws["total"] = np.minimum(sure + rng.binomial(rest, hunted), whole)
    if counted.density_m2 is not None:
        draws["density_all_m2"] = counted.density_m2
        draws["density_m2"] = counted.density_m2 * hunted
    return draws


def _stand(counted: Numbers, draws: Mapping[str, FloatArray]) -> StandReading:
    def of(key: str) -> dict[str, float] | None:
        return summary(draws[key]) if key in draws else None

    return StandReading(
        basis=counted.basis,
        density_per_m2=of("density_m2"),
        total=of("total"),
        all_density_per_m2=of("density_all_m2"),
        all_total=of("total_all"),
        by_size=counted.by_size or {},
        counted_plants=counted.counted_plants,
        counted_area_m2=counted.counted_area_m2,
        stops=counted.stops,
        walks=counted.walks,
        found=counted.found,
        seen_share=counted.seen_share,
        density_upper95_per_ha=counted.density_upper95_per_ha,
        patches=counted.patches,
        after_work=counted.after_work,
        of_hectares=counted.of_hectares,
    )


def _dated_taxa(named: Named, taxa: Mapping[str, TaxonReading]) -> list[str]:
    """Whose dates are given: hunted taxa that may be among the plants seen, likeliest first; else the leading one."""
    if not taxa:
        return [named.leading_hunted] if named.leading_hunted else []
    hunted = sorted((taxa[code] for code in named.hunted if code in taxa), key=lambda taxon: -taxon.p_seen)
    chosen = [taxon.code for taxon in hunted if taxon.p_seen >= _DATED]
    if chosen:
        return chosen
    # A cross or "something else" has no season of its own; its nearest taxon stands for it.
    leading = (named.leading or named.leading_hunted or "").split("x")[0]
    return [leading] if leading and leading != "other" else list(named.hunted[:1])


def _thought_here(named: Named, taxon: TaxonReading | None, as_of: date) -> bool:
    """Looks taken this season speak for it: neither a region's habit nor a bare name is a first find."""
    return (
        taxon is not None
        and named.season == as_of.year
        and not named.by_sight
        and named.plants > 0
        and taxon.p_seen >= _THOUGHT_HERE
    )


def _station(ledger: Ledger, standing: Standing) -> WeatherTable | None:
    """The station that the site names, else the nearest, else the only one."""
    places = ledger.station_places(standing.known_to)  # a station that came later was not known
    sites = [entry.body for entry in standing.of("site") if isinstance(entry.body, Site)]
    if not places:
        return None
    body = sites[-1] if sites else None
    if body is not None and body.station in places:
        return ledger.weather(body.station, standing.known_to)
    centre = (None if body is None else centre_of(body)) or first_place(standing.entries)
    placed = {name: place for name, place in places.items() if place is not None}
    if centre is not None and placed:
        # Plain squared degrees, longitudes shrunk: only the order of a few stations matters.
        shrink = float(np.cos(np.radians(centre[1])))
        near = min(placed, key=lambda n: (shrink * (placed[n][0] - centre[0])) ** 2 + (placed[n][1] - centre[1]) ** 2)
        return ledger.weather(near, standing.known_to)
    return ledger.weather(next(iter(places)), standing.known_to) if len(places) == 1 else None
