"""The four roles, and who is asking."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

Role = Literal["coordinator", "scout", "grower", "laboratory"]
ROLES: tuple[Role, ...] = get_args(Role)


class _Everybody:
    """The rule of a route that needs no token."""

    def __repr__(self) -> str:
        return "EVERYBODY"


EVERYBODY = _Everybody()
May = tuple[Role, ...] | _Everybody
OFFICE: tuple[Role, ...] = ("coordinator",)
FIELD: tuple[Role, ...] = ("coordinator", "scout")


@dataclass(frozen=True, slots=True)
class Who:
    """Who is asking, from the token of the device: never from what the request says.

    `sites` and `calls` are what was assigned to the person (site ids; ids of report entries); a coordinator sees all
    without being assigned any. `form_token` stands in the forms of our pages. `by_cookie`: a browser asks.
    """

    id: str
    name: str
    role: Role
    device: str
    device_name: str
    sites: frozenset[str]
    calls: frozenset[str]
    laboratory: str | None
    form_token: str
    by_cookie: bool

    @property
    def sees_all(self) -> bool:
        return self.role == "coordinator"

    def at(self, site: str | None) -> bool:
        """May this person know of the site?"""
        return self.sees_all or (site is not None and site in self.sites and self.role in {"scout", "grower"})
