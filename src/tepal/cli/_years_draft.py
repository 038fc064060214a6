"""A programme drafted from a site's own record: crops, sprayings, pulling, plants counted, what a laboratory found."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

import numpy as np

from tepal.flora import Flora
from tepal.ledger import Crop, Entry, Ledger, event_date
from tepal.programme import CROPS, Block, Draft, DraftSeason, Line, draft_text, read_programme_text
from tepal.reading import DoneLine, Reading
from tepal.words import Words, message

_MOST_SEASONS = 4
# Share of resistant alleles behind what a record tells (judgement): a laboratory tests plants that somebody suspected.
_FOUND = {"resistant": message("resistant"), "mixed": message("mixed")}
_SHARES = {"resistant": (0.2, 0.9), "mixed": (0.05, 0.5), "suspected": (0.02, 0.4)}
# Seed in the ground behind a plant counted after spraying: one seed in 5 to 100 comes up, and none to nine in ten of
# the plants were killed before they were counted (judgement).
_SEED_PER_PLANT = (5.0, 300.0)
_UNCOUNTED, _NONE_SEEN = (1.0, 300.0), (0.0, 10.0)
# So many days after planting the crop comes up; what was sprayed before met no plants of the season.
_CROP_UP_DAYS = 6
_PULLED, _CUT_CM = 0.9, 15.0


def drafted(book: Ledger, reading: Reading, *, flora: Flora, words: Words) -> str:
    """The programme's text, read back by its own reader before it is given out."""
    entries = book.standing(reading.site, reading.as_of, reading.known_to).entries
    text = draft_text(_draft(reading, entries, flora, words))
    read_programme_text(text, name=f"{reading.site}.toml")
    return text


def _draft(reading: Reading, entries: Sequence[Entry], flora: Flora, words: Words) -> Draft:
    place = reading.place
    seasons = _seasons(reading, entries, flora, words)
    return Draft(
        remarks=(
            words.t("Drafted from the record of {name} as of {day}, entry {n}. Correct what is wrong; a value that is "
                    "left out is drawn from the published tables.", name=place.name, day=reading.as_of.isoformat(),
                    n=reading.known_to),
            words.t("Prices, costs and yields are not on record: add [money], and cost_ha to each tactic."),
        ),
        head=(Line("name", place.name), _taxon(reading, flora, words)),
        field=_field(reading, words),
        start=_start(reading, seasons, words),
        resistance=_resistance(reading, entries, words),
        seasons=[season for _, season in seasons],
    )  # fmt: skip


def _taxon(reading: Reading, flora: Flora, words: Words) -> Line:
    hunted = flora.hunted()
    leading = reading.facts["leading"]
    if leading in hunted:
        return Line("taxon", str(leading), flora.taxon(str(leading)).english_name)
    likely = max(hunted, key=lambda code: reading.taxa[code].p_any if code in reading.taxa else 0.0)
    return Line("taxon", likely, words.t("assumed: the likeliest here of those that are hunted, {name}",
                                         name=flora.taxon(likely).english_name))  # fmt: skip


def _field(reading: Reading, words: Words) -> tuple[Line, ...]:
    place = reading.place
    area = (
        Line("hectares", float(f"{place.hectares:.4g}")) if place.hectares
        else Line("hectares", None, words.t("hectares are not on record: 40 are taken"))
    )  # fmt: skip
    row = (
        Line("row_cm", float(place.row_cm)) if place.row_cm
        else Line("row_cm", None, words.t("row width is not on record: 76 cm is taken"))
    )  # fmt: skip
    return area, row


def _start(reading: Reading, seasons: Sequence[tuple[int, DraftSeason]], words: Words) -> tuple[Line, ...]:
    density = reading.draws.get("density_m2")
    if reading.stand.basis != "counts" or density is None or not density.any():
        if reading.facts["none_seen"]:
            return (Line("seedbank_m2", _NONE_SEEN, words.t("assumed: none was seen in the part that was walked")),)
        return (Line("seedbank_m2", _UNCOUNTED, words.t("assumed: nothing was counted here; replace it")),)
    low, high = (float(f"{value:.3g}") for value in np.quantile(density[density > 0], (0.1, 0.9)))
    sprayed = reading.facts["sprayed_days"] is not None or reading.facts["pulled_days"] is not None
    first_is_now = bool(seasons) and seasons[0][0] == reading.as_of.year
    if sprayed or not first_is_now:
        bank = (float(f"{low * _SEED_PER_PLANT[0]:.2g}"), float(f"{high * _SEED_PER_PLANT[1]:.2g}"))
        return (
            Line("seedbank_m2", bank,
                 words.t("assumed from {low} to {high} plants per m2 counted after work had been done: 5 to 300 seeds "
                         "for each", low=low, high=high)),
        )  # fmt: skip
    return (
        Line("plants_m2", (low, max(high, low)), words.t("counted before anything was done, 10 and 90 % points")),
    )  # fmt: skip


def _resistance(reading: Reading, entries: Sequence[Entry], words: Words) -> tuple[tuple[str, tuple[Line, ...]], ...]:
    found: dict[str, tuple[Line, ...]] = {}
    for line in reading.done:
        if line.what == "sprayed" and line.detail.get("survivors"):
            for group in _groups(line):
                found[group] = (
                    Line("allele_share", _SHARES["suspected"],
                         words.t("assumed: plants lived through a spraying with it on {day}", day=line.on.isoformat())),
                )  # fmt: skip
    for entry in entries:
        for group, result in (getattr(entry.body, "resistant", None) or {}).items():
            if str(group).isdigit() and result in _SHARES:
                found[str(group)] = (
                    Line("allele_share", _SHARES[result],
                         words.t("assumed: a laboratory found plants {result} on {day}", result=words.t(_FOUND[result]),
                                 day=event_date(entry).isoformat())),
                )  # fmt: skip
            elif str(group).isdigit():
                found.pop(str(group), None)  # what a laboratory found susceptible is as published
    return tuple(sorted(found.items(), key=lambda item: int(item[0])))


def _seasons(
    reading: Reading, entries: Sequence[Entry], flora: Flora, words: Words
) -> list[tuple[int, DraftSeason]]:  # fmt: skip
    """Years on record, this year's first, as what comes first is done first; then those before it, oldest first."""
    crops: dict[int, Crop] = {}
    for entry in entries:
        if isinstance(entry.body, Crop) and entry.body.part is None:
            crops[entry.body.year] = entry.body
    years = sorted(year for year in crops if year <= reading.as_of.year)[-_MOST_SEASONS:]
    if not years:
        return [(reading.as_of.year, _season(reading.as_of.year, None, reading, flora, words))]
    order = [years[-1], *years[:-1]]
    return [(year, _season(year, crops[year], reading, flora, words)) for year in order]


def _season(year: int, crop: Crop | None, reading: Reading, flora: Flora, words: Words) -> DraftSeason:
    if crop is None:
        name, remark = "fallow", words.t("assumed: no crop is on record")
    elif crop.crop in CROPS:
        name, remark = crop.crop, str(year)
    else:
        row = flora.crop(crop.crop)
        kind = row.kind if row is not None else "none"
        name = {"small_grain": "oat", "forage": "alfalfa", "row": "soybean"}.get(kind, "fallow")
        remark = words.t("{year}, taken for {crop}, which the tables of years do not have", year=year, crop=crop.crop)
    lines = [Line("crop", name, remark)]
    planted = crop.planted if crop is not None else None
    if planted is not None:
        lines.append(Line("planted", f"{planted:%m-%d}" if planted.month != 2 or planted.day != 29 else "02-28"))
    if crop is not None and crop.row_cm:
        lines.append(Line("row_cm", float(crop.row_cm)))
    start = planted or date(year, 5, 10)
    blocks = [
        block
        for line in sorted(reading.done, key=lambda line: line.on)
        if line.on.year == year
        for block in _done(line, start, reading, flora, words)
    ]
    remarks = () if blocks else (words.t("nothing done against weeds is on record for {year}", year=year),)
    return DraftSeason(tuple(lines), tuple(blocks), remarks)


def _done(line: DoneLine, planted: date, reading: Reading, flora: Flora, words: Words) -> list[Block]:
    days, on = (line.on - planted).days, f"{line.on:%m-%d}" if (line.on.month, line.on.day) != (2, 29) else "02-28"
    told = line.on.isoformat()
    if line.what == "sprayed":
        return _sprayed(line, max(min(days, 300), -200), flora, words)
    if line.what in ("pulled", "bagged"):
        share = line.detail.get("share")
        lines = [
            Line("share", float(share)) if share is not None
            else Line("share", _PULLED, words.t("assumed: how many were found is not on record")),
            Line("when", on),
        ]  # fmt: skip
        if line.detail.get("hours") and reading.place.hectares:
            lines.append(Line("hours_ha", float(f"{float(line.detail['hours']) / reading.place.hectares:.3g}")))
        return [Block("season.pull", tuple(lines))]
    if line.what in ("cut", "mowed"):
        height = line.detail.get("cut_height_cm")
        lines = [
            Line("height_cm", float(height)) if height is not None
            else Line("height_cm", _CUT_CM, words.t("assumed: the height of the cut is not on record")),
            Line("when", on),
        ]  # fmt: skip
        return [Block("season.cut", tuple(lines))]
    if line.what == "cultivated" and -200 <= days <= 300:
        return [Block("season.cultivate", (Line("days_after_planting", days),), told)]
    return []


def _sprayed(line: DoneLine, days: int, flora: Flora, words: Words) -> list[Block]:
    groups = {int(group): _timing(group, line, flora) for group in _groups(line)}
    names = ", ".join(str(item["name"]) for item in line.detail.get("ingredients", ()))
    told = f"{line.on.isoformat()}: {names}"
    if not groups:
        return []
    early = days <= _CROP_UP_DAYS
    soil = tuple(g for g, (pre, post) in groups.items() if pre and (early or not post))
    leaf = tuple(g for g, (pre, post) in groups.items() if g not in soil and not early)
    blocks = []
    if soil:
        blocks.append(Block("season.residual", (Line("groups", soil), Line("days_after_planting", days)), told))
    if leaf:
        lines = [Line("groups", leaf), Line("days_after_planting", days)]
        tallest = line.detail.get("tallest_cm")
        if tallest:
            lines.append(Line("height_cm", float(tallest), words.t("the tallest on record; the mean was less")))
        blocks.append(Block("season.post", tuple(lines), told))
    return blocks


def _groups(line: DoneLine) -> list[str]:
    items: Sequence[Any] = line.detail.get("ingredients", ())
    numbers = [str(item["group"]) for item in items if item["group"] is not None]
    return [group for group in dict.fromkeys(numbers) if group.isdigit() and 0 < int(group) < 100]


def _timing(group: str, line: DoneLine, flora: Flora) -> tuple[bool, bool]:
    """Whether what was sprayed of a group works through the soil, and whether on plants that are up."""
    names = {str(item["name"]).casefold() for item in line.detail.get("ingredients", ())}
    rows = [row for row in flora.ingredients.values() if int(group) in row.groups]
    rows = [row for row in rows if row.name.casefold() in names] or rows
    timings = [part for row in rows for part in row.timing]
    pre = any(part.startswith(("PRE", "PPI", "residual")) for part in timings)
    post = any(part.startswith(("POST", "burndown", "directed", "layby", "hooded")) for part in timings)
    return pre, post or not timings
