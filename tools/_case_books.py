"""Twelve cases as entries of a ledger: places, weather and people of them are made up, the plants' looks are not."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np

from tepal.ground import Frame
from tepal.ledger import Entry, WeatherBatch, WeatherDay, entry

# In the ocean: nobody's field.
_LON = -40.0
_FIRST_YEAR = 2008
PALMER_YOUNG = {"stem_hair_upper": "none", "fold_test_lower_leaf": "longer", "canopy_top_view": "poinsettia_like"}
PALMER_FEMALE = {
    "plant_sex": "female_only", "stem_hair_upper": "none", "bract_length_female": 5.0, "seedhead_feel_female": "sharp",
    "petiole_blade_ratio_lower": 1.3,
}  # fmt: skip
WATERHEMP_SEEDLING = {"stem_hair_upper": "none", "leaf_outline": "lanceolate", "first_leaf_tip_notch": "present"}
WATERHEMP_YOUNG = {
    "stem_hair_upper": "none", "fold_test_lower_leaf": "shorter", "leaf_gloss": "glossy", "leaf_outline": "lanceolate",
}  # fmt: skip
WATERHEMP_FEMALE = {
    "plant_sex": "female_only", "stem_hair_upper": "none", "bract_length_female": 1.7, "seedhead_feel_female": "soft",
    "tepal_count_female": "absent_or_1-2",
}  # fmt: skip


@dataclass(frozen=True)
class Case:
    """One case: its name for links, its title, what happened in words, the day of the question, its entries."""

    name: str
    title: str
    story: str
    as_of: date
    entries: Sequence[Entry]
    weather: WeatherBatch
    sprayings: bool = False  # the season's sprayings are checked too


@dataclass(frozen=True)
class Book:
    """Makes entries of one site at a latitude."""

    site: str
    lat: float

    @property
    def frame(self) -> Frame:
        return Frame(_LON, self.lat)

    def at(self, east: float, north: float) -> list[float]:
        return [round(float(v), 6) for v in self.frame.to_lonlat([east, north])]

    def said(self, kind: str, on: str, by: str = "educator", **body: Any) -> Entry:
        moment = datetime.fromisoformat(f"{on}T15:00:00+00:00")
        return entry(kind, {"on": on, **body}, by=by, site=self.site, made_at=moment)

    def place(self, name: str, ground: str, *, state: str, region: str, acres: float, **more: Any) -> Entry:
        half = math.sqrt(acres * 4046.86) / 2
        ring = [self.at(*c) for c in ((-half, -half), (half, -half), (half, half), (-half, half), (-half, -half))]
        return self.said(
            "site", "2026-03-01", name=name, ground=ground, state=state, region=region,
            boundary={"type": "Polygon", "coordinates": [ring]}, **more,
        )  # fmt: skip

    def may_enter(self, on: str = "2026-04-01") -> Entry:
        return self.said("party", on, name="the farmer", roles=["farms"], consent_to_enter=True, consent_on=on)

    def counts(self, on: str, found: Sequence[int], *, tallest: float, size: str, apart: float, area: float = 2.0,
               start: tuple[float, float] = (-150.0, -150.0)) -> list[Entry]:  # fmt: skip
        """Stops in a line, `apart` metres from each other, with so many pigweeds each."""
        stops = []
        for i, count in enumerate(found):
            tally = [{"taxon": "pigweed", "size": size, "count": count, "tallest_cm": tallest}] if count else []
            where = self.at(start[0] + i * apart, start[1] + i * apart)
            stops.append(self.said("stop", on, at=where, area_m2=area, counts=tally))
        return stops

    def plant(self, on: str, looks: Mapping[str, Any], stage: str, height: float, **more: Any) -> Entry:
        where = self.at(*more.pop("where", (0.0, 0.0)))
        return self.said("plant", on, at=where, looks=dict(looks), stage=stage, height_cm=height, **more)


def weather(lat: float, last: date, *, wet: float = 0.3) -> WeatherBatch:
    """A made-up station: a yearly wave by latitude, spells, wet and dry days; every year from one generator."""
    rng = np.random.default_rng(20_260_000 + round(10 * lat))
    mean, swing = 31.0 - 0.5 * lat, 2.0 + 0.3 * lat
    days, day, spell, rained = [], date(_FIRST_YEAR, 1, 1), 0.0, False
    while day <= last:
        wave = mean - swing * math.cos(2 * math.pi * (day.timetuple().tm_yday - 20) / 365.25)
        spell = 0.7 * spell + 2.5 * rng.standard_normal()
        rained = bool(rng.random() < (wet + 0.15 if rained else wet - 0.05))
        rain = round(float(rng.gamma(0.8, 9.0)), 1) if rained else 0.0
        half = 6.0 - 1.5 * rained
        days.append(WeatherDay(day, round(wave + spell - half, 1), round(wave + spell + half, 1), rain))
        day += timedelta(days=1)
    return WeatherBatch("station", tuple(days))


def seedlings() -> Case:
    b, on = Book("seedlings", 42.0), "2026-06-04"
    return Case(
        "seedlings", "Seedlings in soybean at the third leaf",
        "Soybean planted on May 12 in 30-inch rows, at V3; its traits are on record. Waterhemp was proved here last "
        "year. On June 4 the educator counts ten stops, the tallest plant 2 in, and looks at four seedlings.",
        date(2026, 6, 5),
        [
            b.place("Bench Forty", "field", state="IA", region="CB", acres=40), b.may_enter(),
            b.said("sample", "2025-08-20", step="result", what="leaf", taxon="AMATU", sure=0.99),
            b.said("crop", "2026-05-12", year=2026, crop="soybean", traits=["glyphosate", "glufosinate"],
                   planted="2026-05-12", row_cm=76, stage="V3"),
            *b.counts(on, [3, 0, 5, 1, 8, 0, 2, 6, 0, 4], tallest=5.0, size="seedling", apart=30),
            *[b.plant(on, WATERHEMP_SEEDLING, "seedling_2-4_leaf", h, where=(-150 + 60 * i, -150 + 60 * i))
              for i, h in enumerate((3.0, 4.0, 5.0, 3.5))],
        ],
        weather(42.0, date(2026, 6, 5)),
    )  # fmt: skip


def escapes() -> Case:
    b, on = Book("escapes", 40.3), "2026-08-11"
    seen = [(-120, 80), (-60, 40), (30, 10), (90, -70), (110, -100), (140, -120), (-90, 110), (60, -10), (20, 120)]
    return Case(
        "escapes", "Escapes above the soybean canopy in August",
        "Soybean planted on May 8 in 15-inch rows. On August 11 a walk of an hour and a half, up and down the field, "
        "finds nine plants of four to five feet and marks each; three are females in flower, no seed dark. Waterhemp "
        "was proved here two years ago.",
        date(2026, 8, 12),
        [
            b.place("Grove Eighty", "field", state="IL", region="CB", acres=80), b.may_enter(),
            b.said("sample", "2024-08-20", step="result", what="leaf", taxon="AMATU", sure=0.99),
            b.said("crop", "2026-05-08", year=2026, crop="soybean", traits=["glyphosate"], planted="2026-05-08",
                   row_cm=38),
            b.said("walk", on, sigma_m=6.0, minutes=90, found=9, track={"type": "MultiLineString", "coordinates": [
                [b.at(-260, y), b.at(260, y)] for y in range(-240, 241, 40)]}),
            *[b.plant(on, WATERHEMP_FEMALE if i < 3 else WATERHEMP_YOUNG, "reproductive" if i < 3 else "vegetative",
                      130.0 + 5 * i, where=at, flowering=i < 3, seed_dark=False) for i, at in enumerate(seen)],
        ],
        weather(40.3, date(2026, 8, 12)),
    )  # fmt: skip


def cut() -> Case:
    b, on = Book("cut", 41.0), "2026-07-21"
    return Case(
        "cut", "A patch that was cut two weeks ago",
        "On July 21 a walk around a corn field finds 31 waterhemp plants in a patch at its corner, up to 30 in tall "
        "and not in flower. The next day they are cut at 6 in. Nothing is on record since. It is August 5.",
        date(2026, 8, 5),
        [
            b.place("Long Lane", "field", state="IA", region="CB", acres=30), b.may_enter(),
            b.said("crop", "2026-05-15", year=2026, crop="corn", traits=["glyphosate"], planted="2026-05-05",
                   row_cm=76),
            b.said("walk", on, sigma_m=5.0, minutes=60, found=31, track={"type": "LineString", "coordinates": [
                b.at(*c) for c in ((-165, -165), (165, -165), (165, 165), (-165, 165), (-165, -165))]}),
            b.plant(on, WATERHEMP_YOUNG, "vegetative", 75.0, where=(-155.0, -155.0), flowering=False, count=4),
            b.plant(on, WATERHEMP_YOUNG, "vegetative", 70.0, where=(-145.0, -150.0), flowering=False, count=27),
            b.said("done", "2026-07-22", what="cut", cut_height_cm=15.0, plants=31, tallest_cm=75.0),
        ],
        weather(41.0, date(2026, 8, 5)),
    )  # fmt: skip


def green_heads() -> Case:
    b, on = Book("green-heads", 38.2), "2026-08-22"
    return Case(
        "green-heads", "Green heads, and nobody knows when they flowered",
        "Palmer amaranth in grain sorghum, proved here two years ago. On August 22 two passes through the field find "
        "25 plants. Three females of six feet are looked at: in flower, no seed dark.",
        date(2026, 8, 22),
        [
            b.place("Section Line", "field", state="KS", region="SP", acres=60), b.may_enter(),
            b.said("sample", "2024-09-02", step="result", what="leaf", taxon="AMAPA", sure=0.99),
            b.said("crop", "2026-06-01", year=2026, crop="grain sorghum", traits=[], planted="2026-05-28", row_cm=76),
            b.said("walk", on, sigma_m=8.0, minutes=60, found=25, track={"type": "MultiLineString", "coordinates": [
                [b.at(-240, y), b.at(240, y)] for y in (-60, 60)]}),
            *[b.plant(on, PALMER_FEMALE, "reproductive", 180.0, where=(-150.0 + 60 * i, 60.0), flowering=True,
                      seed_dark=False) for i in range(3)],
        ],
        weather(38.2, date(2026, 8, 22), wet=0.2),
    )  # fmt: skip


def stubble() -> Case:
    b, on = Book("stubble", 38.0), "2026-07-14"
    return Case(
        "stubble", "After the wheat",
        "Wheat came off on June 27. On July 14 eight stops find Palmer amaranth up to two feet tall in the stubble; "
        "none of three looked at is in flower. It was proved here three years ago.",
        date(2026, 7, 14),
        [
            b.place("Wheat Quarter", "field", state="KS", region="SP", acres=155), b.may_enter(),
            b.said("sample", "2023-09-02", step="result", what="leaf", taxon="AMAPA", sure=0.99),
            b.said("crop", "2025-10-04", year=2026, crop="winter wheat", traits=[], planted="2025-10-04", row_cm=19),
            b.said("done", "2026-06-27", what="harvested"),
            *b.counts(on, [2, 0, 6, 11, 3, 0, 9, 4], tallest=62.0, size="30_100_cm", apart=70, area=20,
                      start=(-300.0, -300.0)),
            *[b.plant(on, PALMER_YOUNG, "vegetative", 55.0 + i, where=(-160.0 + 70 * i, -160.0 + 70 * i),
                      flowering=False) for i in range(3)],
        ],
        weather(38.0, date(2026, 7, 14), wet=0.2),
    )  # fmt: skip


def hay() -> Case:
    b, on = Book("hay", 38.6), "2026-08-18"
    return Case(
        "hay", "Hay from an infested pasture",
        "Palmer amaranth with dark seed on a pasture cut for hay, for the first time in this record. It was mowed on "
        "August 10; sixty bales left for a feed lot on August 13. Six stops are counted on August 18.",
        date(2026, 8, 18),
        [
            b.place("Hill Pasture", "pasture", state="MO", region="CB", acres=25), b.may_enter(),
            b.said("crop", "2026-04-01", year=2026, crop="grass hay"),
            b.said("done", "2026-08-10", what="mowed", cut_height_cm=10.0),
            b.said("move", "2026-08-13", what="hay, 60 bales", to_words="a feed lot on the county road", tag="cut 2"),
            *b.counts(on, [0, 5, 9, 0, 3, 0], tallest=80.0, size="30_100_cm", apart=25, area=20, start=(-60.0, -60.0)),
            *[b.plant(on, PALMER_FEMALE, "mature_seed", 80.0, where=(-30.0 + 25 * i, -30.0 + 25 * i), flowering=True,
                      seed_dark=True) for i in range(3)],
        ],
        weather(38.6, date(2026, 8, 18)),
    )  # fmt: skip


def nesting() -> Case:
    b, on = Book("nesting", 42.6), "2026-06-24"
    return Case(
        "nesting", "A filter strip along a ditch, in the nesting season",
        "Conservation ground beside a ditch in Iowa, where the nesting season lasts until August 1. On June 24 six "
        "stops find pigweeds up to a foot tall; of two looked at one could be Palmer amaranth.",
        date(2026, 6, 24),
        [
            b.place("Ditch Strip", "conservation", state="IA", region="CB", acres=6, features=[
                {"kind": "waterway", "name": "the ditch", "geometry": {
                    "type": "LineString", "coordinates": [b.at(-75, 80), b.at(75, 80)]}}]),
            b.may_enter(),
            *b.counts(on, [6, 0, 3, 8, 0, 2], tallest=32.0, size="10_30_cm", apart=20, area=10, start=(-50.0, -50.0)),
            b.plant(on, {"stem_hair_upper": "none", "fold_test_lower_leaf": "about_equal"}, "vegetative", 30.0,
                    where=(-50.0, -50.0), flowering=False),
            b.plant(on, WATERHEMP_YOUNG, "vegetative", 32.0, where=(10.0, 10.0), flowering=False),
        ],
        weather(42.6, date(2026, 6, 24)),
    )  # fmt: skip


def failed_spray() -> Case:
    b, on = Book("failed-spray", 40.1), "2026-07-06"
    dense = [38, 55, 21, 70, 44, 0, 31, 62]
    looked = [(WATERHEMP_YOUNG, 18.0 + i) for i in range(7)] + [(PALMER_YOUNG, 24.0)]
    return Case(
        "failed-spray", "One Palmer amaranth among dense waterhemp, after a spray that failed",
        "Soybean, sprayed with a group 14 herbicide on June 22 when the tallest stood at 5 in, and plants lived "
        "through it. On July 6 eight stops find dense pigweed of up to 10 in. Of eight plants looked at, one has a "
        "petiole longer than its blade.",
        date(2026, 7, 6),
        [
            b.place("Church Eighty", "field", state="IL", region="CB", acres=75), b.may_enter(),
            b.said("crop", "2026-05-14", year=2026, crop="soybean", traits=["glyphosate", "glufosinate"],
                   planted="2026-05-14", row_cm=76),
            b.said("done", "2026-06-22", what="sprayed", ingredients=[{"name": "fomesafen", "group": "14"}],
                   tallest_cm=13.0, survivors=True),
            *b.counts(on, dense, tallest=26.0, size="10_30_cm", apart=45, area=2, start=(-200.0, -200.0)),
            *[b.plant(on, looks, "vegetative", h, where=(-200.0 + 45 * i, -200.0 + 45 * i), flowering=False)
              for i, (looks, h) in enumerate(looked)],
        ],
        weather(40.1, date(2026, 7, 6)),
        sprayings=True,
    )  # fmt: skip


def first_find() -> Case:
    b, on = Book("first-find", 45.1), "2026-08-03"
    return Case(
        "first-find", "A first find where the state lists it",
        "Six plants of three feet in a sugarbeet field, in flower: sharp heads, long petioles. Palmer amaranth was "
        "never proved in the county, and the state lists it as a weed to be eradicated.",
        date(2026, 8, 3),
        [
            b.place("Beet Eighty", "field", state="MN", region="UM", acres=80, county="Larkmoor"), b.may_enter(),
            b.said("crop", "2026-05-02", year=2026, crop="sugarbeet", traits=["glyphosate"], planted="2026-05-02",
                   row_cm=56),
            *[b.plant(on, PALMER_FEMALE, "reproductive", 95.0 + i, where=(20.0 + 8 * i, 35.0), flowering=True,
                      seed_dark=False, count=2) for i in range(3)],
        ],
        weather(45.1, date(2026, 8, 3)),
    )  # fmt: skip


def cotton() -> Case:
    b, on = Book("cotton", 32.5), "2026-06-08"
    return Case(
        "cotton", "Cotton, and nobody knows the seed's trait",
        "Cotton at the fifth leaf; its herbicide traits are not on record. Palmer amaranth was proved here four years "
        "ago. On June 8 eight stops find pigweeds of up to three inches.",
        date(2026, 6, 8),
        [
            b.place("River Cut", "field", state="GA", region="SE", acres=50), b.may_enter(),
            b.said("sample", "2022-08-20", step="result", what="leaf", taxon="AMAPA", sure=0.99),
            b.said("crop", "2026-05-10", year=2026, crop="cotton", planted="2026-05-08", row_cm=96, stage="5 leaf"),
            *b.counts(on, [4, 9, 2, 0, 7, 5, 0, 3], tallest=8.0, size="under_10_cm", apart=40, area=2,
                      start=(-160.0, -160.0)),
            *[b.plant(on, {"stem_hair_upper": "none", "leaf_outline": "ovate", "leaf_tip_hair": "present"},
                      "seedling_2-4_leaf", 7.0, where=(-160.0 + 40 * i, -160.0 + 40 * i)) for i in range(3)],
        ],
        weather(32.5, date(2026, 6, 8)),
    )  # fmt: skip


def re_entry() -> Case:
    b, on = Book("re-entry", 41.6), "2026-06-18"
    return Case(
        "re-entry", "Sprayed yesterday, and nobody may go in yet",
        "Soybean, waterhemp proved here last year. Ten stops are counted on June 16, the tallest 3 in; the field is "
        "sprayed on June 18, and the re-entry time of the label, written down, ends on June 20 at six in the morning. "
        "It is June 19.",
        date(2026, 6, 19),
        [
            b.place("Mill Forty", "field", state="IA", region="CB", acres=40), b.may_enter(),
            b.said("sample", "2025-08-20", step="result", what="leaf", taxon="AMATU", sure=0.99),
            b.said("crop", "2026-05-18", year=2026, crop="soybean", traits=["glyphosate", "glufosinate"],
                   planted="2026-05-18", row_cm=76),
            *b.counts("2026-06-16", [2, 0, 4, 1, 6, 0, 3, 5, 0, 2], tallest=7.5, size="under_10_cm", apart=30),
            *[b.plant("2026-06-16", WATERHEMP_SEEDLING, "seedling_2-4_leaf", h, where=(-150 + 60 * i, -150 + 60 * i))
              for i, h in enumerate((5.0, 6.0, 7.5))],
            b.said("done", on, what="sprayed", ingredients=[{"name": "glufosinate", "group": "10"}], tallest_cm=8.0,
                   re_entry_until="2026-06-20T06:00:00-05:00"),
        ],
        weather(41.6, date(2026, 6, 19)),
    )  # fmt: skip


def harvest() -> Case:
    b, on = Book("harvest", 40.6), "2026-09-24"
    seen = [(-200 + 9 * i, 180 - 7 * (i % 5)) for i in range(12)]
    return Case(
        "harvest", "The day of harvest",
        "Soybean planted on May 10; waterhemp proved here two years ago. On September 24 a walk of an hour finds 140 "
        "plants, twelve of them looked at: females of five feet with dark seed. On September 25 the crop is combined, "
        "and it is the evening of that day.",
        date(2026, 9, 25),
        [
            b.place("Bridge Eighty", "field", state="IL", region="CB", acres=80), b.may_enter(),
            b.said("sample", "2024-08-20", step="result", what="leaf", taxon="AMATU", sure=0.99),
            b.said("crop", "2026-05-10", year=2026, crop="soybean", traits=["glyphosate"], planted="2026-05-10",
                   row_cm=76),
            b.said("walk", on, sigma_m=6.0, minutes=60, found=140, track={"type": "MultiLineString", "coordinates": [
                [b.at(-260, y), b.at(260, y)] for y in range(-240, 241, 60)]}),
            *[b.plant(on, WATERHEMP_FEMALE, "mature_seed", 150.0, where=at, flowering=True, seed_dark=True)
              for at in seen],
            b.said("done", "2026-09-25", what="harvested"),
        ],
        weather(40.6, date(2026, 9, 25)),
    )  # fmt: skip


CASES = (
    seedlings, escapes, cut, green_heads, stubble, hay, nesting, failed_spray, first_find, cotton, re_entry, harvest,
)  # fmt: skip
