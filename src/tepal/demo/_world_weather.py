"""Made-up daily weather for an invented station: a yearly wave, warm and cold spells, wet and dry days."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

_MEAN_C, _SWING_C, _COLDEST_DAY = 9.4, 14.3, 20  # a continental climate near 41.5 degrees north (judgement)
_SPELL_SD, _SPELL_MEMORY, _YEAR_SD = 3.6, 0.72, 0.8
_DRY_TO_WET, _WET_TO_WET = 0.22, 0.42


@dataclass(frozen=True, slots=True, eq=False)
class DailyWeather:
    """One station, one row a day. Arrays of shape = (n_days,): degrees Celsius and millimetres."""

    first: date
    tmin_c: FloatArray
    tmax_c: FloatArray
    rain_mm: FloatArray

    def day(self, index: int) -> date:
        return self.first + timedelta(days=index)

    def index(self, day: date) -> int:
        return (day - self.first).days

    def csv(self, last: date) -> str:
        """The rows up to and with `last`, as an instrument would give them."""
        rows = ["date,tmin_c,tmax_c,prcp_mm"]
        for i in range(self.index(last) + 1):
            rows.append(f"{self.day(i)},{self.tmin_c[i]:.1f},{self.tmax_c[i]:.1f},{self.rain_mm[i]:.1f}")
        return "\n".join(rows) + "\n"


def make_weather(rng: np.random.Generator, *, first_year: int, last_year: int) -> DailyWeather:
    """Weather of whole years, all from `rng`."""
    first = date(first_year, 1, 1)
    n = (date(last_year + 1, 1, 1) - first).days
    day_of_year = np.array([(first + timedelta(days=i)).timetuple().tm_yday for i in range(n)])
    years = np.array([(first + timedelta(days=i)).year for i in range(n)])
    wave = _MEAN_C - _SWING_C * np.cos(2 * np.pi * (day_of_year - _COLDEST_DAY) / 365.25)
    yearly = _YEAR_SD * rng.standard_normal(last_year - first_year + 1)[years - first_year]

    spells = np.empty(n)
    wet = np.zeros(n, dtype=bool)
    spell, is_wet = 0.0, False
    for i in range(n):
        spell = _SPELL_MEMORY * spell + _SPELL_SD * np.sqrt(1 - _SPELL_MEMORY**2) * rng.standard_normal()
        is_wet = bool(rng.random() < (_WET_TO_WET if is_wet else _DRY_TO_WET))
        spells[i], wet[i] = spell, is_wet
    summer = 1 + 0.6 * np.cos(2 * np.pi * (day_of_year - 170) / 365.25)
    rain = np.where(wet, rng.gamma(0.8, 8.0, n) * summer, 0.0)

    mean = wave + yearly + spells
    half_range = np.clip(5.8 - 1.6 * wet + 0.9 * rng.standard_normal(n), 1.5, None)
    return DailyWeather(first, mean - half_range, mean + half_range, np.round(rain, 1).astype(np.float64))
