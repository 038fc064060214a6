"""The clock of a site: a re-entry time is read off a label by somebody who looks at the clock on the wall.

A state with two zones takes the one that lies farther east: its clock is ahead, so nobody is sent in too early. Without
a state the longitude has to do, on the late side: in the United States legal time is at most two hours ahead of the
sun's (daylight saving at a zone's western end). The zone is always said beside the hour.
"""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from tepal.ledger import LATEST_ZONE
from tepal.words import message

_EASTERN, _CENTRAL, _MOUNTAIN, _PACIFIC = "America/New_York", "America/Chicago", "America/Denver", "America/Los_Angeles"
_ZONES = {
    _EASTERN: "CT DC DE FL GA KY MA MD ME NC NH NJ NY OH PA RI SC TN VA VT WV",
    "America/Detroit": "MI",
    "America/Indiana/Indianapolis": "IN",
    _CENTRAL: "AL AR IA IL KS LA MN MO MS ND NE OK SD TX WI",
    _MOUNTAIN: "CO MT NM UT WY",
    "America/Boise": "ID OR",
    "America/Phoenix": "AZ",
    _PACIFIC: "CA NV WA",
    "America/Anchorage": "AK",
    "Pacific/Honolulu": "HI",
}
_OF_STATE = {state: zone for zone, states in _ZONES.items() for state in states.split()}
_AHEAD_OF_THE_SUN_H = 2.0
BY_LONGITUDE = message("by longitude")


def local(moment: datetime, *, state: str | None, longitude: float | None) -> datetime:
    """The same moment by the clock of the site; of a moment told without a zone, the hour as it was told."""
    if moment.tzinfo == LATEST_ZONE:
        return moment
    zone = _OF_STATE.get((state or "").strip().upper())
    if zone is not None:
        try:
            return moment.astimezone(ZoneInfo(zone))
        except ZoneInfoNotFoundError:  # no table of zones on this machine
            return moment.astimezone(UTC)
    if moment.utcoffset():
        return moment  # whoever told an offset of his own meant it
    if longitude is not None:
        hours = min(math.ceil(longitude / 15 + _AHEAD_OF_THE_SUN_H), 14)
        return moment.astimezone(timezone(timedelta(hours=hours), BY_LONGITUDE))
    return moment.astimezone(UTC)
