"""Hand-made letters: what each room would hand over for five places in an invented county."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import pytest
import shapely
from shapely.geometry import LineString, MultiPolygon, Point, Polygon

from tepal.letter import (
    Closing,
    Count,
    Done,
    Feature,
    Find,
    LetterData,
    Looks,
    MapData,
    Plant,
    Record,
    Said,
    Signer,
    Stop,
    Task,
    Visit,
)
from tepal.words import Words

PALMER = ("AMAPA", "Palmer amaranth", "Amaranthus palmeri", True)
WATERHEMP = ("AMATU", "waterhemp", "Amaranthus tuberculatus", True)
REDROOT = ("AMARE", "redroot pigweed", "Amaranthus retroflexus", False)
SMOOTH = ("AMACH", "smooth pigweed", "Amaranthus hybridus", False)
POWELL = ("AMAPO", "Powell amaranth", "Amaranthus powellii", False)
SOURCES = (
    "Bell, M. S. and Tranel, P. J. 2010. Time requirement from pollination to seed maturity in waterhemp. "
    "Weed Science 58, 167-173.",
    "Keeley, P. E., Carter, C. H. and Thullen, R. J. 1987. Influence of planting date on growth of Palmer amaranth. "
    "Weed Science 35, 199-204.",
    "Sosnoskie, L. M. and others 2014. Growth and development of Palmer amaranth after cutting. Weed Technology.",
    "Norsworthy, J. K. and others 2014. In-field movement of glyphosate-resistant Palmer amaranth. Weed Technology 28.",
)


def says(text: str) -> Said:
    return lambda words: words.t(text)


def tall(text: str, metres: float) -> Said:
    return lambda words: words.t(text, height=words.length(metres))


def plant(of: tuple[str, str, str, bool], p_any: float, share: float = 0.0, *, proved: bool = False) -> Plant:
    return Plant(*of, p_any=p_any, share=share, proved=proved)


def square(side: float) -> Polygon:
    return shapely.box(0, 0, side, side)


PULL = Task(
    says("Pull every one of these plants with its root, and bag it where it stood."),
    date(2026, 8, 13),
    says("A female that ripens can drop 200,000 seeds or more."),
    says("Stems snap and the crown stays; short plants under the canopy are missed."),
)
NO_MOW = Task(says("Do not mow or combine these plants."), None, says("Cut stems grow back and spread seed."))
NO_SPRAY = Task(says("Do not spray tall plants to save the day."), None, says("It will not stop seed that is forming."))
NO_LEAVE = Task(says("Do not leave pulled heads lying."), None, says("Seed goes on ripening on a pulled plant."))
GLOVES = says("Wear gloves, long sleeves and eye protection. Work early in the day, with water, never alone.")
REENTRY = says("Nobody enters before the re-entry time on the label has passed.")
MACHINE = says("Shut the machine down and lock it out before anyone cleans it.")


def first_find() -> LetterData:
    """A few tall females in August, the first in the county."""
    as_of = date(2026, 8, 11)
    walk = LineString([(60 + 55 * (i // 2), 40 if (i // 2 + i) % 2 else 620) for i in range(20)])
    return LetterData(
        site="Gravel Pit Forty",
        as_of=as_of,
        looks=Looks("plants", date(2026, 8, 10), stops=7, plants=6, walked_m=5400.0),
        record=Record(418, "3fa9c2d17be0", "0.1.0", SOURCES),
        plants=(plant(PALMER, 0.98, 0.94), plant(WATERHEMP, 0.06, 0.04), plant(REDROOT, 0.03, 0.02)),
        count=Count(9, 14, 31, 14 / 161_874),
        closings=(
            Closing("viable_seed", date(2026, 8, 16), date(2026, 8, 24), date(2026, 9, 3), date(2026, 8, 13), 0.03),
            Closing("flowers", date(2026, 7, 28), date(2026, 8, 4), date(2026, 8, 12), None, 0.86),
        ),
        tasks=(
            Task(
                says(
                    "Keep one whole plant in a press and fresh leaves in a cooler, then call the state weed authority."
                ),
                as_of,
                says("A first find has to be proved, and the law may ask for a call the same day."),
                says("Mowing or pulling all of them before a plant is kept."),
            ),
            PULL,
            Task(
                says("Tie and label the bags and hold them on this site."),
                date(2026, 8, 13),
                says("Moving seed may be against the law until the state says how."),
                None,
            ),
            Task(
                says("Walk the field edges, the gate and the waterway."),
                date(2026, 8, 18),
                says("Where one grows, others often stand near."),
                says("Scouting only the first patch."),
            ),
            Task(says("Come back to pull what was missed."), date(2026, 8, 25), says("Short plants set seed too.")),
        ),
        do_nots=(NO_MOW, NO_SPRAY, NO_LEAVE),
        cautions=(GLOVES, REENTRY, says("Ask before you burn or move bags: a burn ban or the weed law may forbid it.")),
        done=(Done(date(2026, 6, 9), says("Sprayed: group 14 and group 15, at planting.")),),
        unknowns=(
            says("whether a laboratory agrees with the name; a leaf sample would settle it"),
            says("how the seed came here; ask about hired machines, feed and seed mixes"),
        ),
        visit=Visit(date(2026, 8, 25), says("We walk the field again and pull what was missed.")),
        signer=Signer("", ""),
        to="To the owner and the farmer of Gravel Pit Forty",
        office="Larkmoor County weed office",
        place=("Larkmoor County, SW 1/4 of section 14",),
        hectares=16.19,
        first_find=True,
        map=MapData(
            boundary=Polygon([(0, 0), (402, 0), (402, 402), (250, 402), (230, 360), (180, 402), (0, 402)]),
            stops=(
                Stop(210, 300, 6),
                Stop(260, 330, 3),
                Stop(120, 250, 0),
                Stop(330, 120, 0),
                Stop(80, 80, 0),
                Stop(300, 240, 1),
                Stop(200, 120, 0),
            ),
            finds=(Find(205, 306, "Palmer amaranth", True), Find(268, 336, "Palmer amaranth", True), Find(305, 232)),
            tracks=(shapely.affinity.scale(walk, 0.34, 0.56, origin=(0, 0)),),
            features=(
                Feature("gate", Point(0, 200)),
                Feature("waterway", LineString([(402, 300), (300, 380), (200, 402)])),
            ),
        ),
    )


def heavy_patch() -> LetterData:
    """Waterhemp by the thousand along a waterway."""
    as_of = date(2026, 7, 6)
    water = LineString([(0, 90), (150, 130), (330, 120), (520, 210), (700, 240), (800, 300)])
    stops = []
    for i in range(24):
        along = water.interpolate(i * 34)
        away = (i * 37 % 100) - 50
        count = max(0, round(70 * (1 - abs(away) / 35) * (1 if 6 < i < 18 else 0.1)))
        stops.append(Stop(along.x, along.y + away, count))
    return LetterData(
        site="Creek Bottom",
        as_of=as_of,
        looks=Looks("plants", date(2026, 7, 3), stops=24, plants=11, walked_m=3100.0),
        record=Record(231, "3fa9c2d17be0", "0.1.0", SOURCES),
        plants=(
            plant(WATERHEMP, 1.0, 0.93),
            plant(PALMER, 0.12, 0.01),
            plant(REDROOT, 0.55, 0.04),
            plant(SMOOTH, 0.3, 0.02),
        ),
        count=Count(8_200, 14_600, 27_000, 14_600 / 240_000),
        closings=(
            Closing("height_10_cm", date(2026, 6, 10), date(2026, 6, 14), date(2026, 6, 19), None, 1.0),
            Closing("flowers", date(2026, 7, 12), date(2026, 7, 20), date(2026, 7, 29), date(2026, 7, 10), 0.0),
            Closing("viable_seed", date(2026, 7, 29), date(2026, 8, 8), date(2026, 8, 20), date(2026, 7, 26), 0.0),
            Closing("next_flush", date(2026, 7, 9), date(2026, 7, 15), None, None, 0.2),
        ),
        tasks=(
            Task(
                says("Cut the patch along the waterway below the lowest leaf scar, or at the soil line."),
                date(2026, 7, 10),
                tall("Cut {height} up, about a third lived in trials.", 0.025),
                says("Leaving even a short stem."),
            ),
            Task(
                says("Pull the scattered plants in the crop."),
                date(2026, 7, 26),
                says("Each one that is left can fill the patch again."),
                says("Dropping plants on wet soil."),
            ),
            Task(
                says("Harvest this field last and clean the combine when you leave it."),
                None,
                says("Nearly all combines carry live weed seed out of an infested field."),
                says("Skipping the rock trap."),
            ),
            Task(
                says("Walk the waterway downstream after each large rain."),
                None,
                says("Runoff has moved seed more than {far} in a year.".replace("{far}", "100 yards")),
                None,
            ),
        ),
        do_nots=(NO_SPRAY, NO_MOW, NO_LEAVE, Task(says("Do not drive through the patch after seed turns dark."))),
        cautions=(GLOVES, REENTRY, MACHINE),
        done=(
            Done(date(2026, 5, 4), says("Sprayed: group 15, at planting.")),
            Done(date(2026, 6, 12), says("Sprayed: group 9 and group 14. Plants lived.")),
        ),
        unknowns=(says("which sites of action still work here; seed from 20 to 40 plants would tell"),),
        visit=Visit(date(2026, 7, 20), says("We look at what grew back.")),
        signer=Signer("R. Holloway", "County weed superintendent"),
        to="To the farmer of Creek Bottom",
        office="Larkmoor County weed office",
        place=("Larkmoor County, east of the creek road",),
        hectares=24.0,
        map=MapData(
            boundary=Polygon(
                [(0, 0), (800, 0), (820, 180), (800, 330), (640, 320), (0, 300)],
                [[(600, 60), (680, 60), (680, 120), (600, 120)]],
            ),
            stops=tuple(stops),
            finds=(
                *(Find(220 + 45 * i, 150 + 12 * i, "waterhemp", True) for i in range(5)),
                Find(120, 60, "redroot pigweed"),
            ),
            tracks=(LineString([(0, 40), (780, 60), (780, 150), (20, 120), (10, 230), (780, 290)]),),
            features=(
                Feature("waterway", water),
                Feature("gate", Point(0, 20)),
                Feature("other", Point(640, 90), "barn"),
            ),
        ),
    )


def nothing_seen() -> LetterData:
    as_of = date(2026, 7, 15)
    lanes = [(x, y) for i in range(9) for x, y in ((40 + 90 * i, 20), (40 + 90 * i, 760))]
    lanes = [p if (i // 2) % 2 == 0 else lanes[i ^ 1] for i, p in enumerate(lanes)]
    return LetterData(
        site="North Eighty",
        as_of=as_of,
        looks=Looks("none", date(2026, 7, 14), walked_m=6900.0, seen_share=0.62, p_missed=0.21),
        record=Record(305, "3fa9c2d17be0", "0.1.0", SOURCES[:2]),
        plants=(plant(PALMER, 0.06), plant(WATERHEMP, 0.21)),
        closings=(Closing("next_flush", date(2026, 7, 20), date(2026, 7, 27), None, None, 0.1),),
        tasks=(
            Task(
                says("Look again along the edges and the gate."),
                date(2026, 7, 29),
                says("New seedlings come up after rain."),
            ),
            Task(says("Clean hired machines before they enter."), None, says("Most seed comes in that way.")),
        ),
        do_nots=(Task(says("Do not take this letter as proof that the field is clean.")),),
        cautions=(REENTRY,),
        visit=Visit(date(2026, 7, 29)),
        to="To the farmer of North Eighty",
        office="Larkmoor County weed office",
        place=("Larkmoor County",),
        hectares=32.4,
        map=MapData(
            boundary=shapely.box(0, 0, 805, 402 * 2 - 4),
            tracks=(LineString(lanes),),
            stops=tuple(Stop(130 + 180 * i, 200 + 300 * j, 0) for i in range(4) for j in range(2)),
            features=(Feature("gate", Point(402, 0)),),
        ),
    )


def false_alarm() -> LetterData:
    """Reported as Palmer amaranth; it is redroot."""
    return LetterData(
        site="Schoolhouse Quarter",
        as_of=date(2026, 7, 22),
        looks=Looks("plants", date(2026, 7, 21), stops=5, plants=8, walked_m=2100.0),
        record=Record(340, "3fa9c2d17be0", "0.1.0", SOURCES[:2]),
        plants=(
            plant(REDROOT, 0.97, 0.71),
            plant(SMOOTH, 0.5, 0.2),
            plant(POWELL, 0.3, 0.06),
            plant(WATERHEMP, 0.04, 0.01),
            plant(PALMER, 0.01, 0.0),
        ),
        count=Count(120, 260, 610, 260 / 640_000, hunted_only=False),
        closings=(Closing("flowers", date(2026, 7, 26), date(2026, 8, 1), date(2026, 8, 9), date(2026, 7, 24), 0.1),),
        tasks=(
            Task(
                says("Pull or hoe the plants before they bear seed."),
                date(2026, 7, 24),
                says("They cost yield as well."),
            ),
        ),
        do_nots=(NO_SPRAY,),
        cautions=(GLOVES,),
        unknowns=(says("which of the three look-alikes each plant is; flowers would tell"),),
        to="To the farmer of Schoolhouse Quarter",
        office="Larkmoor County weed office",
        place=("Larkmoor County",),
        hectares=64.7,
        map=MapData(
            boundary=MultiPolygon([square(500), shapely.affinity.translate(square(280), 530, 200)]),
            stops=(Stop(100, 100, 4), Stop(220, 140, 9), Stop(300, 260, 1), Stop(640, 330, 0), Stop(400, 420, 0)),
            finds=(Find(222, 150, "redroot pigweed"), Find(105, 108, "redroot pigweed"), Find(310, 250)),
            tracks=(LineString([(0, 0), (100, 100), (220, 140), (300, 260), (400, 420)]),),
        ),
    )


def phone_report() -> LetterData:
    """A call and a photo; nobody has looked."""
    return LetterData(
        site="Mill Lane roadside",
        as_of=date(2026, 6, 12),
        looks=Looks("report", date(2026, 6, 11), how="call"),
        record=Record(97, "3fa9c2d17be0", "0.1.0"),
        plants=(plant(WATERHEMP, 0.55, 0.5), plant(REDROOT, 0.3, 0.3), plant(PALMER, 0.12, 0.1)),
        closings=(
            Closing("height_10_cm", date(2026, 6, 14), date(2026, 6, 19), date(2026, 6, 26), date(2026, 6, 13), 0.1),
        ),
        tasks=(
            Task(
                says("Walk there and count, with a ruler and a bag."),
                date(2026, 6, 13),
                says("Small plants can still be stopped with little work."),
            ),
            Task(
                says("Look at the leaf stalk, the hairs and the leaf tip of five plants."),
                date(2026, 6, 13),
                says("That tells the three that it may be apart."),
            ),
        ),
        do_nots=(Task(says("Do not spray or mow before someone has looked.")),),
        to="To the person who called",
        office="Larkmoor County weed office",
        place=("Larkmoor County, half a mile south of the mill",),
        map=MapData(point=(0.0, 0.0), point_error_m=150.0),
    )


CASES: dict[str, Callable[[], LetterData]] = {
    "first_find": first_find,
    "heavy_patch": heavy_patch,
    "nothing_seen": nothing_seen,
    "false_alarm": false_alarm,
    "phone_report": phone_report,
}
A_WEEK = timedelta(days=7)


@pytest.fixture(params=CASES)
def case(request: pytest.FixtureRequest) -> LetterData:
    return CASES[request.param]()


@pytest.fixture
def cases() -> dict[str, Callable[[], LetterData]]:
    return CASES


@pytest.fixture
def us() -> Words:
    return Words("en", "us")


@pytest.fixture
def metric() -> Words:
    return Words("en", "metric")
