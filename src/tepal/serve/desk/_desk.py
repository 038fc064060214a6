"""What the desk keeps while the server runs, and what a phone is told from it."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from contextlib import suppress
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import Annotated, Any, TypeVar

from fastapi import Depends, FastAPI, Request

from tepal.ledger import Ledger
from tepal.serve import Settings
from tepal.serve._tell import Told
from tepal.serve.desk._aerial import Aerials
from tepal.serve.desk._calls import Call, Calls
from tepal.serve.desk._links import site_part
from tepal.serve.desk._prior import Places
from tepal.serve.desk._readings import Readings
from tepal.serve.desk._told import wording
from tepal.words import Words

T = TypeVar("T")
# A county's list takes longer to word than to send: each person's last ones are at hand.
_VIEWS = 24


class Desk:
    """The desk of one ledger."""

    def __init__(self, ledger: Ledger, settings: Settings) -> None:
        self.ledger, self.settings = ledger, settings
        self.readings = Readings(ledger, now=settings.now, today=settings.today, law=settings.law)
        self.calls, self.aerials = Calls(ledger), Aerials(ledger)
        self._named: tuple[int, dict[str, str]] = (-1, {})
        self._views: OrderedDict[Hashable, Any] = OrderedDict()

    def names(self) -> dict[str, str]:
        """What each site on record is called, by its id; read anew only when something came in."""
        last = self.ledger.last_seq
        if self._named[0] != last:
            self._named = (last, {site.id: site.name for site in self.ledger.sites()})
        return self._named[1]

    def once(self, of: Hashable, make: Callable[[], T]) -> T:
        """What was made `of` these before; made now where it was not. `of` must hold all that it is made of."""
        if of in self._views:
            with suppress(KeyError):  # gone meanwhile: another request made others
                self._views.move_to_end(of)
                found: T = self._views[of]
                return found
        made = self._views[of] = make()
        while len(self._views) > _VIEWS:
            self._views.popitem(last=False)
        return made

    def told(self, site: str, as_of: date, words: Words) -> Told | None:
        """What a phone takes along of a site, from its last reading; None while there is none.

        Of a reading that does not hold any more the last one is told: its age stands with the server's day.
        """
        shown = self.readings.of(site, as_of, opened=False)
        picture = self.aerials.of(site)
        aerial = None if picture is None else aerial_plain(site, picture.bounds, picture.sha256)
        if shown.brief is None:
            return None if aerial is None else Told(aerial=aerial)
        told, said = shown.told, shown.told["words"][wording(words)]
        closes = None if told["closes_on"] is None else {"what": said["closes"], "on": told["closes_on"]}
        return Told(
            said["sentence"],
            tuple(said["do"]),
            closes,
            told["return_on"],
            prior=self.prior(site, as_of),
            aerial=aerial,
        )

    def prior(self, site: str, as_of: date) -> dict[str, float] | None:
        """The prior of a place from what was found there and around it; None where nothing was."""
        made, briefs = self.readings.briefs(as_of)
        places = self.once(("places", as_of, made, len(briefs)), lambda: Places([one.told for one in briefs.values()]))
        return places.prior(site, as_of=as_of, flora=self.readings.flora)

    def waiting(self, as_of: date) -> list[Call]:
        """The calls of this year that nobody has answered."""
        return [call for call in self.calls.all(as_of) if call.answered is None and call.on.year == as_of.year]

    def close(self) -> None:
        self.readings.close()


def aerial_plain(site: str, bounds: tuple[float, float, float, float], sha256: str) -> dict[str, Any]:
    """The picture from above as a phone is told of it. Another picture has another address."""
    return {"url": f"/sites/{site_part(site)}/aerial.jpg?v={sha256[:16]}", "bounds": list(bounds)}


def desk_of(request: Request) -> Desk:
    found: Desk = request.app.state.desk
    return found


TheDesk = Annotated[Desk, Depends(desk_of)]


def open_desk(made: FastAPI) -> Desk:
    """Put a desk into an application. Once the server starts, readings are made and phones are told from them."""
    state = made.state
    desk = Desk(state.ledger, state.settings)

    def start() -> None:
        desk.readings.start()
        state.tell = desk.told
        # Cut from the whole files, which takes a second: nobody's first page waits for it.
        threading.Thread(target=faces, daemon=True).start()

    state.desk = desk
    state.opening.append(start)
    state.closing.append(desk.close)
    return desk


@lru_cache(maxsize=1)
def faces() -> dict[str, bytes]:
    """The typefaces of the pages, by name."""
    import base64

    from tepal.letter import embedded

    return {name: base64.b64decode(text) for name, text in embedded().items()}


def law_text(law: Path | None) -> str | None:
    return None if law is None else str(law)
