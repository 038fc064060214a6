"""One field, one plant, one day at a time: the slow twin of the clock. Imports nothing of it, and no numpy.

Written from the equations in docs/rooms/clock.md. Plants draw their own luck from free random numbers, so that the
clock's evenly spread plants can be checked against them.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

Day = tuple[float, float, float]
Numbers = Mapping[str, float]


@dataclass
class Plant:
    """One plant's days of life, None where it does not come to that; and its height at the end of each day."""

    weight: float
    gone: bool = False
    up: int | None = None
    ten_cm: int | None = None
    flower: int | None = None
    seed: int | None = None
    heights: dict[int, float] = field(default_factory=dict)


def day_degrees(low: float, high: float, lower: float, upper: float) -> float:
    """The day as a sine, looked at 96 times."""
    total = 0.0
    for step in range(96):
        now = (low + high) / 2 + (high - low) / 2 * math.sin(2 * math.pi * (step + 0.5) / 96)
        total += min(max(now, lower), upper) - lower
    return total / 96


def daylight(lat: float, day_of_year: int) -> float:
    """Sunrise to sunset with Spencer's (1971) declination: another series than the clock's."""
    g = 2 * math.pi * (day_of_year - 1) / 365
    d = 0.006918 - 0.399912 * math.cos(g) + 0.070257 * math.sin(g) - 0.006758 * math.cos(2 * g)
    d += 0.000907 * math.sin(2 * g) - 0.002697 * math.cos(3 * g) + 0.00148 * math.sin(3 * g)
    phi = math.radians(lat)
    x = (math.sin(math.radians(-0.8333)) - math.sin(phi) * math.sin(d)) / (math.cos(phi) * math.cos(d))
    return 24 / math.pi * math.acos(max(-1.0, min(1.0, x)))


def germination_degrees(share: float, p: Numbers) -> float:
    """Two half log-logistic curves that meet at the middle and pass through 10, 50 and 90 %."""
    low, mid, high = math.log(p["dd10"]), math.log(p["dd50"]), math.log(p["dd90"])
    logit = math.log(share / (1 - share))
    return math.exp(mid + logit / math.log(9) * ((mid - low) if logit < 0 else (high - mid)))


def height(age: float, p: Numbers) -> float:
    """A power to 10 cm, then a line, to at most the final height."""
    age *= p["site"]
    if age <= p["to_ten"]:
        return min(10 * (age / p["to_ten"]) ** (math.log(0.5) / math.log(p["five_share"])), p["final"])
    return min(10 + p["rate"] * (age - p["to_ten"]), p["final"])


def flower_need(hours: float, p: Numbers) -> float:
    """Degree days to flower at a day length."""
    long_days = 1 / (1 + math.exp((p["threshold_h"] - min(hours, 15.0)) / p["width_h"]))
    long_days /= 1 / (1 + math.exp((p["threshold_h"] - 15.0) / p["width_h"]))
    return p["short_dd"] + max(p["long_dd"] - p["short_dd"], 0.0) * long_days


def live(
    p: Numbers, weather: Sequence[Day], lat: float, *, plants: int, luck: random.Random, planted: int | None = None,
    tilled: Sequence[int] = (),
) -> list[Plant]:  # fmt: skip
    """The plants of a field through a year of days (lowest, highest, rain). `gone`: worked under."""
    warm = [day_degrees(low, high, p["germination_base"], p["germination_upper"]) for low, high, _ in weather]
    grow = [day_degrees(low, high, p["growth_base"], p["growth_upper"]) for low, high, _ in weather]
    bloom = [day_degrees(low, high, p["flower_base"], p["flower_upper"]) for low, high, _ in weather]
    need = [flower_need(daylight(lat, day + 1), p) for day in range(len(weather))]
    frost = next((d for d in range(200, len(weather)) if weather[d][0] <= p["frost"]), len(weather))
    shares = [min(max(luck.random(), 1e-9), 1 - 1e-9) for _ in range(plants)]
    # The field's first ripe seed: working the ground before wakes none.
    first, summed = 0, 0.0
    for day in range(len(weather)):
        summed += warm[day] if day >= p["from_day"] else 0.0
        if summed >= germination_degrees(min(shares), p) * p["site_year"]:
            first = day
            break
    return [
        _one(p, weather, warm, grow, bloom, need, frost, share, luck, planted, tilled, first) for share in shares
    ]  # fmt: skip


def _one(p, weather, warm, grow, bloom, need, frost, share, luck, planted, tilled, first) -> Plant:  # type: ignore[no-untyped-def] # noqa: PLR0917
    plant = Plant(1.0)
    plant.up = _comes_up(p, weather, warm, germination_degrees(share, p) * p["site_year"], luck, tilled, first)
    vigour = math.exp(luck.gauss(0, p["growth_sd"]))
    to_flower = math.exp(luck.gauss(0, p["flower_sd"]))
    if plant.up is None or plant.up >= frost:
        return Plant(1.0)
    if planted is not None and plant.up >= planted:
        cover = 1 / (1 + math.exp((p["cover_half"] - sum(grow[planted : plant.up + 1])) / p["cover_width"]))
        plant.weight = 1 - p["cover_emergence"] * cover
        vigour *= 1 - p["cover_height"] * cover
    age = progress = ripening = 0.0
    for day in range(plant.up, frost):
        if day > plant.up:
            age += grow[day] * vigour
        plant.heights[day] = height(age, p)
        if plant.ten_cm is None and plant.heights[day] >= 10 - 1e-9:
            plant.ten_cm = day
        if plant.flower is None:
            progress += bloom[day] / need[day] if day > plant.up else 0.0
            if progress >= to_flower:
                plant.flower = day
        elif plant.seed is None:
            ripening += min(max(grow[day] / p["ripening_dd"], 0.2), 1.2)
            if ripening >= p["seed_days"]:
                plant.seed = day
        if day in tilled:
            del plant.heights[day]
            plant.gone = True
            break
    return plant


def _comes_up(p, weather, warm, wanted, luck, tilled, first) -> int | None:  # type: ignore[no-untyped-def] # noqa: PLR0917
    """The day a seedling is up: ripe, then rain or the end of patience; or woken when the ground is worked."""
    patience = math.floor(luck.expovariate(1 / p["wait"])) if p["wait"] > 0 else 0
    germinating, ripe_on, woken_at, woken_ripe = 0.0, None, math.inf, None
    for day in range(len(weather)):
        if day >= p["from_day"]:
            germinating += warm[day]
        if ripe_on is None and germinating >= wanted:
            ripe_on = day
        if woken_ripe is None and germinating >= woken_at:
            woken_ripe = day
        fallen = sum(rain for _, _, rain in weather[max(day - 2, 0) : day + 1])
        for since in (ripe_on, woken_ripe):
            if since is not None and (fallen >= p["wet_mm"] or day - since >= patience):
                return day
        # At the end of the day; seed that is ripe and waits starts anew, and so does a share of the rest.
        if day in tilled and day >= first and (ripe_on is not None or luck.random() < p["wakes"]):
            woken_at, woken_ripe = germinating + p["wake_dd"], None
    return None


def event_days(plants: Sequence[Plant], days: int) -> dict[str, int | None]:
    """The days of the six events: shares of the season's seedlings, then a tenth of the plants that stand then."""
    total = sum(plant.weight for plant in plants)
    found: dict[str, int | None] = dict.fromkeys(
        ("emerges_10", "emerges_50", "emerges_90", "height_10_cm", "flowers", "viable_seed")
    )
    for day in range(days):
        up = sum(q.weight for q in plants if q.up is not None and q.up <= day)
        for percent in (10, 50, 90):
            if found[f"emerges_{percent}"] is None and up >= percent / 100 * total > 0:
                found[f"emerges_{percent}"] = day
        standing = [q for q in plants if not q.gone and q.up is not None and q.up <= day]
        up = sum(q.weight for q in standing)
        for name, of in (("height_10_cm", "ten_cm"), ("flowers", "flower"), ("viable_seed", "seed")):
            if found[name] is None and standing:
                reached = sum(q.weight for q in standing if getattr(q, of) is not None and getattr(q, of) <= day)
                if reached >= 0.1 * up:
                    found[name] = day
    return found


def tallest(plants: Sequence[Plant], day: int, share: float = 0.05) -> float:
    """The height that the top `share` of the plants up reach at the end of a day, 0 where none is up."""
    standing = sorted(((q.heights[day], q.weight) for q in plants if day in q.heights), reverse=True)
    total, passed = sum(weight for _, weight in standing), 0.0
    for tall, weight in standing:
        passed += weight
        if passed >= share * total:
            return tall
    return 0.0
