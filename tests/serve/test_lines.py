"""Lines that are slow, and devices that are shown out while they send."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Awaitable, Callable
from typing import Any

import pytest

from _served import MADE, OWN, World, picture
from tepal.ledger import new_id
from tepal.serve import _headers, _taking


def asked(world: World, path: str, parts: list[bytes], *, wait_s: float, ends: bool, **headers: str) -> tuple[int, Any]:
    """A request whose body comes in parts with a wait before each; without `ends` nothing more comes after them."""
    scope = {"type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "scheme": "https", "path": path,
             "raw_path": path.encode(), "query_string": b"", "root_path": "", "client": ("203.0.113.9", 1),
             "server": ("testserver", 443), "method": headers.pop("method", "POST"),
             "headers": [(b"host", b"testserver"), *((n.replace("_", "-").encode(), v.encode())
                         for n, v in headers.items())]}  # fmt: skip
    sent: list[dict[str, Any]] = []
    left = list(parts)

    async def receive() -> dict[str, Any]:
        if not left:
            await asyncio.sleep(30.0)
            return {"type": "http.disconnect"}
        await asyncio.sleep(wait_s)
        part = left.pop(0)
        return {"type": "http.request", "body": part, "more_body": bool(left) or not ends}

    async def send(message: dict[str, Any]) -> None:
        sent.append(message)

    app: Callable[..., Awaitable[None]] = world.client.app  # type: ignore[assignment]
    asyncio.run(asyncio.wait_for(app(scope, receive, send), 25.0))
    body = b"".join(message.get("body", b"") for message in sent)
    return int(sent[0]["status"]), json.loads(body) if body else None


def test_a_line_on_which_nothing_comes_is_let_go_and_a_slow_one_is_not(
    world: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(_headers, "IDLE_S", 2.0)
    kind = {"content_type": "application/json"}
    status, told = asked(world, "/join", [b'{"code": "'], wait_s=0.0, ends=False, **kind)
    assert (status, told["status"]) == (408, 408)
    # Longer than that in all, never so long between two parts.
    sent = [bytes([sign]) for sign in b'{"code":"x","device":"y"}']
    assert asked(world, "/join", sent, wait_s=0.12, ends=True, **kind)[0] == 422
    token = {"authorization": f"Bearer {world.tokens['Sam']}", "method": "PATCH"}
    digest, raw = picture(61)
    part = {"content_type": "application/partial-upload", "upload_offset": "0", "upload_complete": "?1"}
    status, _ = asked(world, f"/photos/{digest}", [raw[:100]], wait_s=0.0, ends=False, **token, **part)
    assert status == 408
    # What has come stays: the phone goes on from there.
    assert world.ask("Sam", "HEAD", f"/photos/{digest}").headers["upload-offset"] == "100"


@pytest.mark.parametrize("way", ["revoked", "left"])
def test_who_is_shown_out_while_they_send_writes_nothing(
    either: World, monkeypatch: pytest.MonkeyPatch, way: str
) -> None:
    read = _taking._read

    def read_and_shown_out(*given: Any) -> Any:
        if way == "left":
            either.office.leave(either.ids["Sam"], now=either.clock())
        else:
            either.office.revoke_device(either.office.devices(either.ids["Sam"])[0].id, now=either.clock())
        return read(*given)

    monkeypatch.setattr(_taking, "_read", read_and_shown_out)
    note = {"id": new_id(), "kind": "note", "site": OWN, "made_at": MADE, "body": {"words": "too late"}}
    before = either.ledger.last_seq
    assert either.ask("Sam", "POST", "/entries", json={"entries": [note]}).status_code == 401
    assert either.ledger.last_seq == before


def test_a_cookie_that_somebody_else_set_never_becomes_a_way_in(world: World) -> None:
    from datetime import timedelta

    planted = "planted-by-somebody-who-knows-it"
    code = world.office.invite(world.ids["Sam"], now=world.clock(), lasts=timedelta(days=1)).code
    sent = {"code": code, "device": "a phone"}
    cookie = {"cookie": f"__Host-tepal={planted}"}
    joined = world.client.post("/join", json=sent, headers=cookie)
    assert joined.status_code == 201
    made = joined.headers["set-cookie"].partition(";")[0].partition("=")[2]
    assert len(made) >= 43 and made != planted
    world.client.cookies.clear()
    assert world.client.get("/me", headers=cookie).status_code == 401
    # Who joins on a browser that was another's is another: the token is a new one, and the old device stays itself.
    code = world.office.invite(world.ids["Tess"], now=world.clock(), lasts=timedelta(days=1)).code
    again = world.client.post(
        "/join", json={"code": code, "device": "the same"}, headers={"cookie": f"__Host-tepal={made}"}
    )
    assert again.json()["person"]["name"] == "Tess"
    world.client.cookies.clear()
    assert world.client.get("/me", headers={"cookie": f"__Host-tepal={made}"}).json()["person"]["name"] == "Sam"
