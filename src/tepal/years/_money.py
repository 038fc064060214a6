"""What a crop would have brought without weeds, and what the programme leaves without a price."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from tepal.programme import Programme
from tepal.years._values import Values

FloatArray = npt.NDArray[np.float64]


def weed_free_t_ha(programme: Programme, crop: str, values: Values) -> FloatArray | None:
    """Yield without weeds, (n,), where the programme tells it."""
    tons = {str(key): amount for key, amount in programme.money.yield_t_ha.items()}.get(crop)
    return None if tons is None else tons.draws(values.luck.of("yield", crop), values.luck.size)


def price_t(programme: Programme, crop: str, values: Values) -> FloatArray | None:
    """Money for a tonne, (n,), where the programme tells it."""
    price = {str(key): amount for key, amount in programme.money.price_t.items()}.get(crop)
    return None if price is None else price.draws(values.luck.of("price", crop), values.luck.size)


def unpriced(programme: Programme) -> tuple[str, ...]:
    """Crops of which a price or a yield is told, but not both: their lost yield costs nothing here."""
    money = programme.money
    crops = dict.fromkeys(season.crop for season in programme.season)
    return tuple(crop for crop in crops if (crop in money.price_t) != (crop in money.yield_t_ha))


def unpaid_hours(programme: Programme) -> bool:
    """Whether hours of pulling are told, but no wage."""
    hours = any(pull.hours_ha is not None for season in programme.season for pull in season.pull)
    return hours and programme.money.wage_hour is None
