"""The people of the office: who has which devices, what each may see, and the ways in that are open."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from tepal.serve import ROLES, Device, Invitation, Person, Who
from tepal.words import Words

_SITES = ("scout", "grower")


@dataclass(frozen=True, slots=True)
class DeviceLine:
    """A device: told in words; `open` while it is let in, `here` where it is the one that asks."""

    id: str
    name: str
    text: str
    open: bool
    here: bool


@dataclass(frozen=True, slots=True)
class OpenLine:
    """An invitation that still works."""

    id: str
    text: str


@dataclass(frozen=True, slots=True)
class PersonLine:
    """One person with all that is theirs, and what could be given to them."""

    id: str
    name: str
    role: str
    left: str
    self: bool
    devices: tuple[DeviceLine, ...]
    invitations: tuple[OpenLine, ...]
    assigns: bool
    sees: str
    sites: tuple[tuple[str, str], ...]
    calls: tuple[tuple[str, str], ...]
    more_calls: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class PeopleView:
    """The page of people. `sites`: what may be typed to name a site, with its name: the name itself, where it is one
    site's alone, else the id."""

    sentence: str
    people: tuple[PersonLine, ...]
    sites: tuple[tuple[str, str], ...]
    roles: tuple[tuple[str, str], ...]


def people_view(
    people: Sequence[Person],
    devices: Sequence[Device],
    invitations: Sequence[Invitation],
    *,
    sites: Mapping[str, str],
    calls: Mapping[str, str],
    who: Who,
    words: Words,
    now: datetime,
) -> PeopleView:
    """The page. `sites` and `calls`: id → name of all that could be given; calls only those that wait."""
    named = sorted((name, id) for id, name in sites.items())
    alone = Counter(name.casefold() for name, _ in named)
    here = [person for person in people if person.left_at is None]
    let_in = sum(1 for device in devices if device.revoked_at is None and device.person in {one.id for one in here})
    sentence = words.t(
        "{people} work with this record, on {devices}.",
        people=words.plural("{count} person", "{count} people", len(here)),
        devices=words.plural("{count} device", "{count} devices", let_in),
    )
    return PeopleView(
        sentence if len(here) != 1 else words.t("You are the only one here so far."),
        tuple(
            _person(one, devices, invitations, sites=sites, calls=calls, who=who, words=words, now=now)
            for one in people
        ),
        tuple((name if alone[name.casefold()] == 1 else id, name) for name, id in named),
        tuple((role, role_words(role, words)) for role in ROLES),
    )


def role_words(role: str, words: Words) -> str:
    """What somebody is to the office."""
    return {
        "coordinator": words.t("Coordinator: sees all"),
        "scout": words.t("Scout: the sites and calls given to them"),
        "grower": words.t("Grower: the letters of their own sites"),
        "laboratory": words.t("Laboratory: the samples sent to it"),
    }[role]


def _person(
    one: Person,
    devices: Sequence[Device],
    invitations: Sequence[Invitation],
    *,
    sites: Mapping[str, str],
    calls: Mapping[str, str],
    who: Who,
    words: Words,
    now: datetime,
) -> PersonLine:
    role = role_words(one.role, words)
    if one.laboratory:
        role = words.t("{role} ({laboratory})", role=role, laboratory=one.laboratory)
    given = sorted((sites.get(id, id), id) for id in one.sites)
    sees = ""
    if one.role in _SITES:
        sees = words.t("Sees:") if one.sites or one.calls else words.t("Sees no site yet.")
    return PersonLine(
        id=one.id,
        name=one.name,
        role=role,
        left="" if one.left_at is None else words.t("Left on {day}.", day=_day(one.left_at, words, now, year=True)),
        self=one.id == who.id,
        devices=tuple(_device(device, who, words, now) for device in devices if device.person == one.id),
        invitations=tuple(
            OpenLine(
                made.id,
                words.t("An invitation is open until {day}.", day=_day(made.expires_at, words, now)),
            )
            for made in invitations
            if made.person == one.id and made.open(now)
        ),
        assigns=one.role in _SITES,
        sees=sees,
        sites=tuple((id, name) for name, id in given),
        calls=tuple((id, words.t("the call about {site}", site=calls.get(id, id))) for id in sorted(one.calls)),
        more_calls=tuple((id, name) for id, name in calls.items() if id not in one.calls)
        if one.role == "scout"
        else (),
    )


def _device(device: Device, who: Who, words: Words, now: datetime) -> DeviceLine:
    if device.revoked_at is not None:
        told = words.t("let in no longer since {day}", day=_day(device.revoked_at, words, now, year=True))
    else:
        days = (now - device.used_at).days
        told = (
            words.t("used today")
            if days == 0
            else words.plural("last used {count} day ago", "last used {count} days ago", days)
        )
    return DeviceLine(
        device.id, device.name, f"{device.name}: {told}.", device.revoked_at is None, device.id == who.device
    )


def _day(moment: datetime, words: Words, now: datetime, *, year: bool = False) -> str:
    """The day at the office, whose clock `now` is."""
    return words.day(moment.astimezone(now.tzinfo).date(), year=year)
