"""One entry: who said what of which site, and when. The unit of the record."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta
from typing import Any, Self

from pydantic import SerializeAsAny, ValidationError, model_validator

from tepal.ledger._bodies import BODIES, KINDS, KINDS_OF_A_SITE, Body, Crop, Photo
from tepal.ledger._ids import canonical, new_id
from tepal.ledger._refusals import refused
from tepal.ledger._values import Broken, Count, Hash, Identifier, Line, Moment, Part
from tepal.tables import Refused, Where

ALWAYS = date.min
"""`event_date` of what describes rather than happens: it counts at every date."""


class Entry(Part):
    """An entry as it stands in the ledger; `got_at` and `seq` are None until a ledger has taken it in.

    `forgotten` is the hash of what the entry said before a person's data in it were forgotten.
    `made_at` keeps the offset of the clock that made it, so that its date is the date where the person stood.
    """

    id: Identifier
    kind: str
    site: Line | None = None
    by: Line
    made_at: Moment
    amends: Identifier | None = None
    body: SerializeAsAny[Body]
    got_at: Moment | None = None
    seq: Count | None = None
    forgotten: Hash | None = None

    @model_validator(mode="before")
    @classmethod
    def _body_by_kind(cls, data: Any) -> Any:
        if not isinstance(data, Mapping):
            return data
        kind, body = data.get("kind"), data.get("body")
        model = BODIES.get(kind) if isinstance(kind, str) else None
        if model is None:
            raise ValueError(f"A kind is one of {', '.join(KINDS)}.")
        if isinstance(body, Body):
            if type(body) is not model:
                raise ValueError(f"The body of kind {kind} is a {model.__name__}.")
            return data
        # The nested error keeps its place: it comes back with "body" in front.
        return {**data, "body": model.model_validate({} if body is None else body)}

    @model_validator(mode="after")
    def _sane(self) -> Self:
        if self.site is None and self.kind in KINDS_OF_A_SITE:
            raise Broken("site", None, f"A {self.kind} entry names its site.")
        if self.kind == "withdraw" and self.amends is None:
            raise Broken("amends", None, "A withdraw entry names in amends what it withdraws.")
        if self.kind == "forgotten" and self.forgotten is None:
            raise Broken("forgotten", None, "What is left of an entry names the hash of what it said.")
        if self.amends == self.id:
            raise Broken("amends", self.amends, "An entry cannot amend itself.")
        if self.body.on is not None and self.body.on > self.made_at.date() + timedelta(days=1):
            raise Broken(
                "on", self.body.on, "on may not lie later than the day after made_at: nobody saw what had not happened."
            )
        return self

    def plain(self) -> dict[str, Any]:
        """What the person made, as JSON values in fixed order: no `got_at`, no `seq`, nothing that is None."""
        out: dict[str, Any] = {"id": self.id, "kind": self.kind}
        if self.site is not None:
            out["site"] = self.site
        out["by"] = self.by
        out["made_at"] = self.made_at.isoformat()
        if self.amends is not None:
            out["amends"] = self.amends
        out["body"] = body_plain(self.body)
        if self.forgotten is not None:
            out["forgotten"] = self.forgotten
        return out

    def text(self) -> str:
        """`plain` as one line of canonical JSON: equal entries have equal text."""
        return canonical(self.plain())

    def content_hash(self) -> str:
        """SHA-256 of `text`; where a person's data were forgotten, of the text before that."""
        return self.forgotten or hashlib.sha256(self.text().encode()).hexdigest()


def body_plain(body: Body) -> dict[str, Any]:
    """A body as JSON values, without what is None."""
    return body.model_dump(mode="json", exclude_none=True)


def entry(
    kind: str,
    body: Body | Mapping[str, Any],
    *,
    by: str,
    site: str | None = None,
    made_at: datetime | str | None = None,
    amends: str | None = None,
    id: str | None = None,
    where: Where | str = "entry",
) -> Entry:
    """A new entry, as a person makes one: id by time, made now, unless they are given.

    Raises
    ------
    Refused
        If anything in it breaks a rule; the refusal names the field.
    """
    made = datetime.now(UTC) if made_at is None else made_at
    given = {"id": id or new_id(), "kind": kind, "site": site, "by": by, "made_at": made, "amends": amends}
    return entry_from_plain({**given, "body": body}, where=where)


def entry_from_plain(data: Any, *, where: Where | str) -> Entry:
    """An entry from JSON values, checked.

    Raises
    ------
    Refused
        If a field is missing, unknown, or breaks its rule.
    """
    place = where if isinstance(where, Where) else Where(where)
    if not isinstance(data, Mapping):
        raise Refused("no JSON object", where=place, rule="An entry is a JSON object.", step="Correct the line.")
    kind = data.get("kind")
    model = BODIES.get(kind) if isinstance(kind, str) else None
    if model is None:
        raise Refused(
            f"kind is {kind!r}",
            where=Where(place.file, place.line, "kind"),
            rule=f"A kind is one of {', '.join(KINDS)}.",
            step="Correct the kind.",
        )
    try:
        body = data.get("body")
        checked = body if isinstance(body, Body) else model.model_validate({} if body is None else body)
    except ValidationError as error:
        raise refused(error, where=place, what=f"a {kind}", allowed=model.model_fields) from None
    try:
        return Entry.model_validate({**data, "body": checked})
    except ValidationError as error:
        allowed = {name: None for name in Entry.model_fields if name not in {"got_at", "seq"}}
        raise refused(error, where=place, what="an entry", allowed=allowed) from None


def event_date(entry: Entry) -> date:
    """The date of what was seen or done: the body's own `on`, else what the kind says, else the date of `made_at`.

    A site and a party describe what is there rather than what happened: without `on` they count at every date.
    """
    body = entry.body
    if body.on is not None:
        return body.on
    if entry.kind in {"site", "party"}:
        return ALWAYS
    if isinstance(body, Crop):
        # What is said of a crop later in the year (a trait read off a bag tag) was true from planting on.
        return body.planted or date(body.year, 1, 1)
    if isinstance(body, Photo) and body.taken_at is not None:
        return body.taken_at.date()
    started = getattr(body, "started", None)
    return started.date() if isinstance(started, datetime) else entry.made_at.date()
