"""Weather and sightings to dates: when a field's pigweeds come up, pass 10 cm, flower, have viable seed.

Floor 2: knows neither the ledger nor a screen.
"""

from tepal.clock._day_length import day_length_h
from tepal.clock._degree_days import degree_days
from tepal.clock._forecast import Event, Forecast, forecast
from tepal.clock._notes import Note
from tepal.clock._regrowth import Regrowth
from tepal.clock._sighting import Sighting
from tepal.clock._weather import Weather
from tepal.clock._windows import Window, windows

__all__ = [
    "Event",
    "Forecast",
    "Note",
    "Regrowth",
    "Sighting",
    "Weather",
    "Window",
    "day_length_h",
    "degree_days",
    "forecast",
    "windows",
]
