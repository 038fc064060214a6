"""Plants taller on the day than any spraying is advised for."""

from __future__ import annotations

from datetime import date

from tepal.advice._finding import Finding
from tepal.advice._passes import Pass
from tepal.advice._plan_weather import PlanWeather
from tepal.advice._population import Said
from tepal.doubt import Provenance
from tepal.flora import Flora
from tepal.words import Words

_HEIGHT = Provenance(("Kouame2024", "HorakLoughin2000"), "measured")
_TALLEST_CM = 10.0
# A chance from which on a careful person moves the date: one in ten, as everywhere.
_LIKELY = 0.1


def of_height(one: Pass, flora: Flora, weather: PlanWeather | None, since: date | None) -> list[Finding]:
    if one.kind == "sprayed":
        return _sprayed_tall(one)
    if one.kind != "post":
        return []
    if one.height_cm is not None:
        share = flora.parameter("typical_height_share", "*")
        tallest = one.height_cm / float(share.mean or 1.0)
        if tallest > _TALLEST_CM:
            return [
                Finding(
                    "too_tall_told",
                    lambda w: w.t(
                        "Spray sooner: where the usual plant is {usual}, the tallest stand at about {tallest}, over "
                        "the {limit} that is advised.",
                        usual=w.length(one.height_cm / 100),  # type: ignore[operator]  # asked for above
                        tallest=w.length(tallest / 100),
                        limit=w.length(_TALLEST_CM / 100),
                    ),
                    _tall_why,
                    _HEIGHT | Provenance(share.sources, share.basis),
                )
            ]
    if one.on is None or weather is None:
        return []
    chance = weather.too_tall(one.on, since)
    if chance is None or chance.value < _LIKELY:
        return []
    on, value = one.on, chance.value
    came = _came(since)
    return [
        Finding(
            "too_tall_by_date",
            lambda w: w.t(
                "On {day} the tallest may be over {limit}: {chance}. Plan an earlier day{came}.",
                day=w.day_month(on), limit=w.length(_TALLEST_CM / 100), chance=w.chance(value), came=came(w),
            ),
            _tall_why,
            _HEIGHT | chance.stands_on,
        )
    ]  # fmt: skip


def _came(since: date | None) -> Said:
    if since is None:
        return lambda w: ""  # noqa: ARG005 - the form of `Said`
    return lambda w: w.t(" (plants that come up from {day} on)", day=w.day_month(since))


def _tall_why(words: Words) -> str:
    return words.t("Small plants die, tall ones live. The label may set a lower height; it governs.")


def _sprayed_tall(one: Pass) -> list[Finding]:
    if one.tallest_cm is None or one.tallest_cm <= _TALLEST_CM:
        return []
    height = one.tallest_cm
    return [
        Finding(
            "sprayed_tall",
            lambda w: w.t("The tallest stood at {height} when it was sprayed; look for plants that live.",
                          height=w.length(height / 100)),
            _tall_why,
            _HEIGHT,
        )
    ]  # fmt: skip
