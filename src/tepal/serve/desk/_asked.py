"""What the pages are asked for: a site, a day; who may see it; and how a page knows that another would be newer."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Annotated
from urllib.parse import urlencode

from fastapi import Path, Query
from pydantic import AfterValidator

from tepal.serve import Who, absent
from tepal.serve.desk._calls import Call
from tepal.serve.desk._desk import Desk
from tepal.serve.desk._links import site_of
from tepal.serve.desk._readings import Shown

Site = Annotated[str, Path(max_length=600), AfterValidator(site_of)]
Id = Annotated[str, Path(max_length=36)]
On = Annotated[date | None, Query(description="the day to look back at")]


def may_know(who: Who, call: Call) -> bool:
    """A coordinator knows of every call, a scout of those handed to them."""
    return who.sees_all or call.entry.id in who.calls


def check_may_see(desk: Desk, who: Who, site: str) -> None:
    """What is another's site, or none, does not exist for who asks."""
    if not who.at(site) or not desk.readings.known(site):
        raise absent()


def stamp(shown: Sequence[Shown]) -> str:
    """Which readings a page stands on, in a few signs: another stamp, another page."""
    made = [one.brief for one in shown if one.brief is not None]
    newest = max((one.made_at.isoformat() for one in made), default="")
    return f"{newest}/{sum(one.key.position for one in made)}/{len(made)}"


def state_of(site: str, on: date | None) -> str:
    """Where a page asks whether a newer reading of the site is there."""
    return "/desk/state?" + urlencode({"site": site} | ({} if on is None else {"on": on.isoformat()}))
