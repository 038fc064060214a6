"""Who may call what: each route of the OpenAPI document, by every role and by nobody, of an own and another's site."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from fastapi import FastAPI

from _served import MADE, OTHER, OWN, World, again, picture
from tepal.ledger import Ledger, new_id
from tepal.serve import EVERYBODY, ROLES, Routes, Settings, app
from tepal.serve._limits import Often
from tepal.serve._routes import check_rules

WHO = {"nobody": None, "laboratory": "Lena", "grower": "Gil", "scout": "Sam", "coordinator": "Cora"}
METHODS = ("get", "head", "post", "patch", "put", "delete")


@dataclass(frozen=True)
class Case:
    """How to call a route: what fills its path, of an own and of another's thing, and what is sent.

    `apart`: False where own and other's are told apart in the answer rather than by its status (or not at all).
    """

    own: Callable[[World], dict[str, str]] = lambda world: {}
    other: Callable[[World], dict[str, str]] | None = None
    more: Callable[[World], dict[str, Any]] = lambda world: {}
    apart: frozenset[str] = field(default_factory=frozenset)


def _made(name: str, key: str) -> Callable[[World], dict[str, str]]:
    return lambda world: {key: world.made[name]}


def _id_of(name: str) -> Callable[[World], dict[str, str]]:
    return lambda world: {"id": world.ids[name]}


def _sent_note(world: World) -> dict[str, Any]:
    note = {"id": new_id(), "kind": "note", "made_at": MADE, "body": {"words": "seen"}}
    return {"json": {"device_time": MADE, "entries": [note]}}


def _invitation(world: World) -> dict[str, str]:
    from datetime import timedelta

    return {"id": world.office.invite(world.ids["Sam"], now=world.clock(), lasts=timedelta(days=1)).id}


def _device(world: World) -> dict[str, str]:
    return {"id": world.office.devices(world.ids["Tess"])[0].id}


def _handed(world: World) -> dict[str, str]:
    world.office.assign(world.ids["Sam"], entry=world.made["own report"], now=world.clock())
    return {"id": world.made["own report"]}


def _plant(site: str) -> Callable[[World], dict[str, str]]:
    looks = {"stage": "vegetative", "looks": {"stem_hair_upper": "none"}}
    return lambda world: {"entry": world.add(f"plant at {site}", "plant", looks, site=site)}


def _aerial(world: World) -> dict[str, Any]:
    edges = {"west": "-96.1", "south": "41.2", "east": "-96.0", "north": "41.3"}
    return {"data": edges, "files": {"picture": ("above.jpg", picture(90)[1], "image/jpeg")}}


def _seen_from_above(site: str) -> Callable[[World], dict[str, str]]:
    def put(world: World) -> dict[str, str]:
        made: Any = world.client.app
        edges = (-96.1, 41.2, -96.0, 41.3)
        made.state.desk.aerials.put(site, picture(90)[1], edges, by="Cora", now=world.clock())
        return {"id": site}

    return put


PART = {"content-type": "application/partial-upload", "upload-offset": "0", "upload-complete": "?0"}
FIELD = frozenset({"scout"})
# A route that is not here and has something to be filled in is not tested, and the test says so.
CASES: dict[str, Case] = {
    "post /join": Case(more=lambda world: {"json": {"code": "no", "device": "x"}}),
    "post /entries": Case(more=_sent_note),
    "head /photos/{digest}": Case(own=_made("own picture", "digest")),
    "patch /photos/{digest}": Case(
        own=lambda world: {"digest": "ab" * 32}, more=lambda world: {"headers": PART, "content": b"x"}
    ),
    "get /photos/{digest}": Case(
        own=_made("own picture", "digest"), other=_made("other picture", "digest"), apart=FIELD
    ),
    "get /photos/{digest}/leaf": Case(
        own=_made("own picture", "digest"), other=_made("other picture", "digest"), apart=FIELD
    ),
    "head /sounds/{digest}": Case(own=_made("own recording", "digest")),
    "patch /sounds/{digest}": Case(
        own=lambda world: {"digest": "ac" * 32}, more=lambda world: {"headers": PART, "content": b"x"}
    ),
    "get /sounds/{digest}": Case(
        own=_made("own recording", "digest"), other=_made("other recording", "digest"), apart=FIELD
    ),
    "get /letters/{id}": Case(
        own=_made("own letter", "id"), other=_made("other letter", "id"), apart=frozenset({"scout", "grower"})
    ),
    "post /samples/{label}": Case(
        own=_made("own sample", "label"),
        other=_made("other sample", "label"),
        more=lambda world: {"data": {"step": "received"}, "follow_redirects": False},
        apart=frozenset({"laboratory"}),
    ),
    "post /office/people": Case(more=lambda world: {"json": {"name": f"New {new_id()}", "role": "scout"}}),
    "post /office/people/{id}/leave": Case(own=_id_of("Tess")),
    "post /office/people/{id}/return": Case(own=_id_of("Tess")),
    "post /office/people/{id}/invitations": Case(own=_id_of("Sam"), more=lambda world: {"json": {"days": 2}}),
    "post /office/people/{id}/assign": Case(own=_id_of("Sam"), more=lambda world: {"json": {"site": OTHER}}),
    "post /office/people/{id}/unassign": Case(own=_id_of("Sam"), more=lambda world: {"json": {"site": OTHER}}),
    "post /office/devices/{id}/revoke": Case(own=_device),
    "post /office/invitations/{id}/revoke": Case(own=_invitation),
    "get /desk/fonts/{face}.woff": Case(own=lambda world: {"face": "regular"}),
    "post /wording": Case(more=lambda world: {"data": {"language": "es", "units": "metric"}}),
    "get /sites/{id}/letter.{form}": Case(
        own=lambda world: {"id": OWN, "form": "txt"}, other=lambda world: {"id": OTHER, "form": "txt"}, apart=FIELD
    ),
    "post /sites/{id}/aerial": Case(own=lambda world: {"id": OWN}, more=_aerial),
    "get /sites/{id}/aerial.jpg": Case(own=_seen_from_above(OWN), other=_seen_from_above(OTHER), apart=FIELD),
    "post /sites/{id}/people": Case(
        own=lambda world: {"id": OWN},
        more=lambda world: {"data": {"name": f"Hal {new_id()}", "role": "farms", "consent": "yes"}},
    ),
    "get /plants/{entry}": Case(own=_plant(OWN), other=_plant(OTHER), apart=FIELD),
    "post /calls": Case(more=lambda world: {"data": {"how": "call", "words": "Pigweeds again"}}),
    "get /calls/{id}": Case(own=_handed, other=_made("other report", "id"), apart=FIELD),
    "post /calls/{id}/plant": Case(
        own=_handed,
        other=_made("other report", "id"),
        more=lambda world: {"data": {"stage": "vegetative", "look": "stem_hair_upper:none"}},
        apart=FIELD,
    ),
    "post /calls/{id}/answer": Case(own=_made("own report", "id"), more=lambda world: {"data": {"text": "It is."}}),
    "post /people": Case(more=lambda world: {"data": {"name": f"New {new_id()}", "role": "scout"}}),
    "post /people/{id}/invite": Case(own=_id_of("Sam")),
    "post /people/{id}/leave": Case(own=_id_of("Tess")),
    "post /people/{id}/return": Case(own=_id_of("Tess")),
    "post /people/{id}/assign": Case(own=_id_of("Sam"), more=lambda world: {"data": {"site": OTHER}}),
    "post /people/{id}/unassign": Case(own=_id_of("Sam"), more=lambda world: {"data": {"site": OTHER}}),
    "post /people/devices/{id}/revoke": Case(own=_device),
    "post /people/invitations/{id}/revoke": Case(own=_invitation),
    "get /static/{digest}/{name}": Case(own=lambda world: {"digest": "0", "name": "plain/plain.css"}),
    "get /phone/{name}": Case(own=lambda world: {"name": "index.html"}),
}
# What a route answers that need not be there on every machine, or that needs a right code.
ALSO_RIGHT = {"post /join": {422}, "get /phone/{name}": {404}}


def _document() -> dict[str, Any]:
    with TemporaryDirectory() as folder, Ledger.open(Path(folder) / "empty.ledger", create=True) as ledger:
        made = app(ledger, Settings(hosts=("testserver",)))
        found: dict[str, Any] = made.openapi()
        for close in made.state.closing:
            close()
    return found


def _routes() -> list[tuple[str, dict[str, Any]]]:
    return [
        (f"{method} {path}", told)
        for path, methods in _document()["paths"].items()
        for method, told in methods.items()
        if method in METHODS
    ]


ROUTES = dict(_routes())


def _case(name: str, told: dict[str, Any]) -> Case:
    if name in CASES:
        return CASES[name]
    site = told.get("x-site", [None])[0]
    needs = [p["name"] for p in told.get("parameters", []) if p["in"] == "path" and p["name"] != site]
    assert not needs and "requestBody" not in told, f"{name}: say in CASES how it is called"
    if site is None:
        return Case()
    return Case(
        own=lambda world: {site: OWN}, other=lambda world: {site: OTHER}, apart=frozenset({"scout", "grower"})
    )  # fmt: skip


def _call(world: World, name: str, who: str | None, case: Case, filled: dict[str, str]) -> int:
    method, path = name.split(" ", 1)
    more = {"follow_redirects": False} | case.more(world)
    status: int = world.ask(who, method.upper(), path.format(**filled), **more).status_code
    return status


def test_every_route_of_the_document_has_a_rule_and_a_case() -> None:
    assert len(ROUTES) > 20
    for name, told in ROUTES.items():
        assert set(told["x-may"]) <= {*ROLES, "everybody"}, name
        _case(name, told)
    assert set(CASES) <= set(ROUTES)


@pytest.fixture(scope="module")
def read_from(template: World, tmp_path_factory: pytest.TempPathFactory) -> Iterator[World]:
    """One office for all that only read."""
    found = again(template, tmp_path_factory.mktemp("read"))
    with found.ledger:
        yield found
        found.close()


@pytest.mark.parametrize("name", sorted(ROUTES))
def test_each_role_is_let_in_where_the_rule_says_so_and_nowhere_else(
    name: str, read_from: World, request: pytest.FixtureRequest
) -> None:
    told = ROUTES[name]
    world: World = read_from if name.startswith(("get ", "head ")) else request.getfixturevalue("world")
    case, may = _case(name, told), set(told["x-may"])
    # Who may most comes last: what they change is of no matter then.
    for role, who in WHO.items():
        status = _call(world, name, who, case, case.own(world))
        if "everybody" in may or role in may:
            assert status < 400 or status in ALSO_RIGHT.get(name, ()), (role, status)
        else:
            assert status == (401 if who is None else 404), (role, status)
        if case.other is None or role not in may:
            continue
        status = _call(world, name, who, case, case.other(world))
        assert status == 404 if role in case.apart else status < 400, (role, "another's", status)


def test_a_revoked_device_is_nobody_on_every_route(world: World) -> None:
    device = world.office.devices(world.ids["Cora"])[0]
    world.office.revoke_device(device.id, now=world.clock())
    # Each address asks a little more often than it may as a stranger.
    world.limits.unknown = Often(1000, 1000)
    for name, told in ROUTES.items():
        if "everybody" not in told["x-may"]:
            case = _case(name, told)
            assert _call(world, name, "Cora", case, case.own(world)) == 401, name


def test_a_route_without_a_rule_cannot_be_made() -> None:
    routes = Routes()
    with pytest.raises(TypeError):
        routes.get("/open")  # type: ignore[call-arg]
    for may in ((), ("farmhand",), None, "coordinator"):
        with pytest.raises(ValueError, match="who may call it"):
            routes.get("/open", may=may)  # type: ignore[arg-type]


def test_a_route_that_came_in_by_another_way_stops_the_application() -> None:
    made = FastAPI(openapi_url=None, docs_url=None, redoc_url=None)
    routes = Routes()
    routes.get("/told", may=EVERYBODY)(lambda: "told")
    made.include_router(routes.router)
    check_rules(made)
    made.get("/forgotten")(lambda: "open")
    with pytest.raises(RuntimeError, match="/forgotten"):
        check_rules(made)
