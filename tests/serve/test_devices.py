"""Invitations, devices and their tokens: how somebody comes in, and how they are kept out."""

from __future__ import annotations

import hashlib
import logging
from datetime import timedelta
from http.cookies import SimpleCookie
from typing import Any

import pytest
from sqlalchemy import select

from _served import OWN, World
from tepal.ledger._schema import devices, invitations
from tepal.serve import Office
from tepal.serve._asking import COOKIE
from tepal.serve._limits import Often
from tepal.serve._problems import Problem


def invited(world: World, name: str = "Sam", **lasts: float) -> str:
    made = world.office.invite(world.ids[name], now=world.clock(), lasts=timedelta(**(lasts or {"days": 7})))
    assert made.code is not None
    return made.code


def join(world: World, code: str, **more: Any) -> Any:
    return world.ask(None, "POST", "/join", json={"code": code, "device": "a phone", "hold": "token"} | more)


def test_an_invitation_lets_one_device_in_once(either: World) -> None:
    code = invited(either)
    first = join(either, code)
    assert first.status_code == 201
    assert first.json()["person"] == {"id": either.ids["Sam"], "name": "Sam", "role": "scout"}
    either.tokens["Sam's second"] = first.json()["token"]
    assert either.get("Sam's second", "/me").json()["device"]["name"] == "a phone"
    second = join(either, code)
    assert second.status_code == 422
    assert "token" not in second.json()


def test_an_invitation_ends_on_its_day_and_when_it_is_taken_back(either: World) -> None:
    late = invited(either, hours=2)
    either.clock.pass_(hours=2)
    assert join(either, late).status_code == 422
    back = invited(either)
    made = either.office.invitations()[0]
    either.office.revoke_invitation(made.id, now=either.clock())
    refused = join(either, back)
    assert refused.status_code == 422
    # A used, an ended, a wrong code: the answer does not tell which.
    either.clock.pass_(hours=1)
    assert refused.json() == join(either, late).json() == join(either, "no such code").json()


def test_two_at_once_with_one_invitation_are_one_device(either: World) -> None:
    from concurrent.futures import ThreadPoolExecutor

    code, before = invited(either), len(either.office.devices())
    with ThreadPoolExecutor(5) as pool:
        answers = list(pool.map(lambda _: join(either, code).status_code, range(5)))
    assert sorted(answers) == [201, 422, 422, 422, 422]
    assert len(either.office.devices()) == before + 1


def test_the_store_holds_no_token_and_no_code(either: World) -> None:
    code = invited(either)
    token = join(either, code).json()["token"]
    assert len(token) >= 43  # 256 bits
    with either.ledger.connected() as connection:
        rows = [*connection.execute(select(devices)), *connection.execute(select(invitations))]
    kept = " ".join(str(value) for row in rows for value in row)
    assert token not in kept
    assert code not in kept
    assert hashlib.sha256(token.encode()).hexdigest() in kept


def test_a_revoked_device_is_out_at_its_next_request(either: World) -> None:
    assert either.get("Sam", "/me").status_code == 200
    device = either.office.devices(either.ids["Sam"])[0]
    assert either.ask("Cora", "POST", f"/office/devices/{device.id}/revoke").status_code == 204
    assert either.get("Sam", "/me").status_code == 401
    assert either.get("Tess", "/me").status_code == 200


def test_who_leaves_is_out_with_every_device_and_invitation(either: World) -> None:
    code = invited(either)
    assert either.ask("Cora", "POST", f"/office/people/{either.ids['Sam']}/leave").status_code == 204
    assert either.get("Sam", "/me").status_code == 401
    assert join(either, code).status_code == 422
    refused = either.ask("Cora", "POST", f"/office/people/{either.ids['Sam']}/invitations", json={})
    assert refused.status_code == 422
    assert either.ask("Cora", "POST", f"/office/people/{either.ids['Cora']}/leave").status_code == 409


def test_a_device_that_leaves_is_out_and_a_long_idle_one_too(world: World) -> None:
    assert world.ask("Sam", "POST", "/leave").status_code == 204
    assert world.get("Sam", "/me").status_code == 401
    world.clock.pass_(days=199)
    assert world.get("Tess", "/me").status_code == 200
    world.clock.pass_(days=199)
    assert world.get("Tess", "/me").status_code == 200
    world.clock.pass_(days=201)
    assert world.get("Tess", "/me").status_code == 401


def test_last_use_is_shown(world: World) -> None:
    world.clock.pass_(hours=3)
    world.get("Sam", "/me")
    people = world.get("Cora", "/office/people").json()["people"]
    sam = next(one for one in people if one["name"] == "Sam")
    assert sam["devices"][0]["used_at"] == "2026-06-18T22:00:00.000Z"
    assert "token" not in str(people)
    # It is in the store, too, once what was noted is written down.
    world.office.close()
    kept = Office(world.ledger).devices(world.ids["Sam"])[0]
    assert kept.used_at == world.clock()


@pytest.mark.parametrize("token", ["", "x", "Bearer", "' OR 1=1 --", "ü", "a" * 5000])
def test_a_wrong_token_is_nobody(world: World, token: str) -> None:
    answer = world.client.get("/me", headers={"authorization": f"Bearer {token}".encode()})
    assert answer.status_code == 401
    assert answer.headers["www-authenticate"].startswith("Bearer")


# ------------------------------------------------------------------------------------------------- browsers


def browser(world: World, name: str = "Cora") -> str:
    """The cookie that a browser is given."""
    answer = join(world, invited(world, name), hold="cookie")
    assert answer.status_code == 201
    assert "token" not in answer.json()
    cookie = SimpleCookie(answer.headers["set-cookie"])[COOKIE]
    assert cookie["secure"]
    assert cookie["httponly"]
    assert cookie["samesite"].lower() == "strict"
    assert cookie["path"] == "/"
    assert not cookie["domain"]
    return cookie.value


OURS = {"origin": "https://testserver", "tepal-request": "1"}


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        (OURS, 204),
        ({"sec-fetch-site": "same-origin", "tepal-request": "1"}, 204),
        ({}, 403),
        ({"tepal-request": "1"}, 403),
        ({"origin": "https://testserver"}, 403),
        ({"origin": "https://elsewhere.example", "tepal-request": "1"}, 403),
        ({"origin": "https://testserver.elsewhere.example", "tepal-request": "1"}, 403),
        ({"origin": "null", "sec-fetch-site": "cross-site", "tepal-request": "1"}, 403),
        ({"origin": "https://elsewhere.example", "sec-fetch-site": "same-origin", "tepal-request": "1"}, 403),
        ({"sec-fetch-site": "same-site", "tepal-request": "1"}, 403),
        ({"origin": "https://testserver", "tepal-request": "yes"}, 403),
    ],
)
def test_a_change_with_a_cookie_comes_from_our_own_page(world: World, headers: dict[str, str], status: int) -> None:
    cookie = f"{COOKIE}={browser(world)}"
    path = f"/office/people/{world.ids['Tess']}/leave"
    answer = world.client.post(path, headers={"cookie": cookie, **headers})
    assert answer.status_code == status
    assert (world.get("Tess", "/me").status_code == 401) == (status == 204)


def test_reading_with_a_cookie_needs_no_more(world: World) -> None:
    assert world.client.get("/me", headers={"cookie": f"{COOKIE}={browser(world)}"}).json()["person"]["name"] == "Cora"


@pytest.mark.parametrize("token", ["own", "other", "none"])
def test_a_form_carries_the_token_of_its_own_device(world: World, token: str) -> None:
    cookie = browser(world, "Lena")
    headers = {"cookie": f"{COOKIE}={cookie}", "origin": "https://testserver"}
    page = world.client.get("/samples", headers={**headers, "accept": "text/html"}).text
    own = page.split('name="form_token" value="')[1].split('"')[0]
    other = world.office.who(world.tokens["Cora"], now=world.clock(), by_cookie=True)
    assert other is not None
    sent = {"step": "received"} | {"own": {"form_token": own}, "other": {"form_token": other.form_token}, "none": {}}[
        token
    ]
    path = f"/samples/{world.made['own sample']}"
    answer = world.client.post(path, headers=headers, data=sent, follow_redirects=False)
    assert answer.status_code == (303 if token == "own" else 403)
    assert cookie not in page


# --------------------------------------------------------------------------------------------------- limits


def test_so_many_at_once_and_so_many_a_second() -> None:
    now = [0.0]
    often = Often(3, 0.5, clock=lambda: now[0])
    for _ in range(3):
        often.take("a")
    with pytest.raises(Problem) as caught:
        often.take("a")
    assert caught.value.status_code == 429
    assert caught.value.headers == {"Retry-After": "2"}
    often.take("b")
    now[0] = 2.0
    often.take("a")
    with pytest.raises(Problem):
        often.take("a")
    now[0] = 1000.0
    for _ in range(3):
        often.take("a")


def test_guessing_invitations_and_tokens_is_slowed_and_a_device_waits_too(world: World) -> None:
    answers = [join(world, f"guess {n}").status_code for n in range(15)]
    assert answers == [422] * 10 + [429] * 5
    guesses = [world.client.get("/me", headers={"authorization": f"Bearer {n}"}).status_code for n in range(80)]
    assert set(guesses[:60]) == {401}
    assert guesses[-1] == 429
    # Who is known is not kept out by a stranger's guesses.
    assert world.get("Sam", "/me").status_code == 200
    world.limits.device = Often(2, 0.001)
    asked = [world.get("Sam", "/me") for _ in range(3)]
    assert [answer.status_code for answer in asked] == [200, 200, 429]
    assert int(asked[2].headers["retry-after"]) > 0
    assert world.get("Tess", "/me").status_code == 200


def test_the_log_names_what_happened_and_no_secret(world: World, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.INFO, logger="tepal.serve"):
        code = invited(world)
        token = join(world, code).json()["token"]
        join(world, "wrong-code-of-somebody")
        device = world.office.devices(world.ids["Sam"])[0]
        world.ask("Cora", "POST", f"/office/devices/{device.id}/revoke")
    assert "joined" in caplog.text
    assert "did not work" in caplog.text
    assert f"device {device.id} revoked" in caplog.text
    for secret in (code, token, "wrong-code-of-somebody", "Sam"):
        assert secret not in caplog.text


def test_the_book_keeps_names_apart_and_grants_only_what_is_there(world: World) -> None:
    def post(path: str, **sent: Any) -> int:
        status: int = world.ask("Cora", "POST", path, json=sent).status_code
        return status

    assert post("/office/people", name="Sam", role="scout") == 422
    assert post("/office/people", name="Una", role="chief") == 422
    assert post("/office/people", name="Una\u202e", role="scout") == 422
    assert post("/office/people", name="Una", role="scout") == 201
    path = f"/office/people/{world.ids['Sam']}/assign"
    assert post(path, site="no-such-site") == 422
    assert post(path, entry=world.made["own stop"]) == 422
    assert post(path, site=OWN, entry=world.made["own report"]) == 422
    assert post(path) == 422
    assert post(path, site=OWN) == post(path, site=OWN) == 204
    assert world.office.person(world.ids["Sam"]).sites == {OWN}
    assert post("/office/people/nobody/assign", site=OWN) == 404
