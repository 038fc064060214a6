"""Behind a proxy: whose word is taken for whom it asks; and the example of the docs, run as it stands there."""

from __future__ import annotations

import json
import os
import re
import socket
import ssl
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from starlette.testclient import TestClient

from _chromium import ARGUMENTS, executable
from _ports import free_port
from _require import SAID, program
from _served import OWN, World, picture
from tepal.cli.serve import _proxies
from tepal.serve import Settings, app
from tepal.serve._proxied import counted_as

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext

OFFICE = Path(__file__).resolve().parents[2] / "docs" / "office.md"
TEPAL = [sys.executable, "-m", "tepal"]
NAME = "weeds.example.org"
SEND = """async ({ to, bytes }) => {
    const headers = { "Content-Type": "application/partial-upload", "Upload-Complete": "?1", "Upload-Offset": "0" };
    const sent = { method: "PATCH", headers: { ...headers, "Tepal-Request": "1" }, body: new Uint8Array(bytes) };
    const { status, headers: told } = await fetch(to, sent);
    return { status, offset: told.get("Upload-Offset"), complete: told.get("Upload-Complete") };
}"""


def guesses(world: World, proxies: tuple[str, ...], peer: str, told: list[str]) -> list[int]:
    """Invitations that do not work, tried from one address, each with a word for whom it is."""
    made = app(world.ledger, Settings(hosts=("testserver",), proxies=proxies, now=world.clock))
    client = TestClient(made, base_url="http://testserver", client=(peer, 50000))
    sent = {"code": "a guess", "device": "a phone"}
    return [client.post("/join", json=sent, headers={"x-forwarded-for": one}).status_code for one in told]


MANY = [f"198.51.100.{n}" for n in range(14)]


@pytest.mark.parametrize(
    ("proxies", "peer", "told", "slowed"),
    [
        ((), "127.0.0.1", MANY, True),  # no proxy was told of: who asks is who is on the line
        ((), "203.0.113.9", MANY, True),
        (("127.0.0.1",), "203.0.113.9", MANY, True),  # somebody else's word
        (("127.0.0.1",), "127.0.0.1", MANY, False),
        (("*",), "203.0.113.9", MANY, False),
        # What the proxy was told by who asks stands before what it saw.
        (("127.0.0.1",), "127.0.0.1", [f"{one}, 203.0.113.9" for one in MANY], True),
        (("*",), "10.0.0.2", [f"{one}, 203.0.113.9" for one in MANY], True),
        (("127.0.0.1",), "127.0.0.1", [f"no address {n}" for n in range(14)], True),
        (("127.0.0.1",), "127.0.0.1", [f"2001:db8:7:1::{n:x}" for n in range(14)], True),  # one network, one owner
        (("127.0.0.1",), "127.0.0.1", [f"2001:db8:7:{n:x}::1" for n in range(14)], False),
    ],
)
def test_guesses_are_counted_by_who_asks_and_a_proxys_word_is_taken_where_it_was_told_of(
    world: World, proxies: tuple[str, ...], peer: str, told: list[str], slowed: bool
) -> None:
    answers = guesses(world, proxies, peer, told)
    assert answers == ([422] * 10 + [429] * 4 if slowed else [422] * 14)


def test_that_the_way_was_safe_is_believed_of_a_proxy_alone(world: World) -> None:
    def promised(proxies: tuple[str, ...]) -> bool:
        made = app(world.ledger, Settings(hosts=("testserver",), proxies=proxies, now=world.clock))
        client = TestClient(made, base_url="http://testserver", client=("127.0.0.1", 1))
        answer = client.get("/join", headers={"x-forwarded-proto": "https"})
        return "strict-transport-security" in answer.headers

    assert promised(("127.0.0.1",))
    assert not promised(())


@pytest.mark.parametrize(
    ("address", "counted"),
    [
        ("203.0.113.9", "203.0.113.9"),
        ("::ffff:203.0.113.9", "203.0.113.9"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        ("testclient", "testclient"),
    ],
)
def test_an_address_is_counted_as_its_owners(address: str, counted: str) -> None:
    assert counted_as(address) == counted


@pytest.mark.parametrize(
    ("url", "behind", "believed"),
    [
        (None, False, ()),
        ("http://127.0.0.1:8321", False, ()),
        ("https://weeds.example.org", False, ("127.0.0.1", "::1")),
        (None, True, ("*",)),
    ],
)
def test_a_proxy_is_told_of_on_the_command_line(url: str | None, behind: bool, believed: tuple[str, ...]) -> None:
    assert _proxies(url, behind_proxy=behind) == believed


def test_a_crew_that_joins_from_one_address_is_not_slowed(world: World) -> None:
    for n in range(15):
        made = world.office.invite(world.ids["Sam"], now=world.clock(), lasts=world.settings.invitation_lasts)
        sent = {"code": made.code, "device": f"phone {n}", "hold": "token"}
        assert world.client.post("/join", json=sent).status_code == 201


# ------------------------------------------------------------------------------------------- the example of the docs


def certificate(folder: Path) -> None:
    """One of its own authority, as an office without a public name has it."""
    made = ["req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-days", "2"]
    names = ["-subj", f"/CN={NAME}", "-addext", f"subjectAltName=DNS:{NAME}"]
    files = ["-keyout", str(folder / "key.pem"), "-out", str(folder / "cert.pem")]
    subprocess.run(["openssl", *made, *names, *files], check=True, capture_output=True)


def example(folder: Path, tls: int, behind: int) -> Path:
    """The file of the docs with two ports of this machine, and a certificate that is there."""
    text = OFFICE.read_text(encoding="utf-8")
    found = re.search(rf"```\n({re.escape(NAME)} \{{\n.*?\n\}})\n```", text, re.DOTALL)
    assert found is not None
    told = found.group(1)
    assert told.count("127.0.0.1:8321") == 1
    told = told.replace("127.0.0.1:8321", f"127.0.0.1:{behind}")
    told = told.replace(f"{NAME} {{\n", f"https://{NAME}:{tls} {{\n    tls {folder}/cert.pem {folder}/key.pem\n", 1)
    path = folder / "Caddyfile"
    path.write_text("{\n    admin off\n    auto_https disable_redirects\n}\n" + told + "\n")
    return path


@contextmanager
def running(command: list[str], folder: Path, name: str) -> Iterator[None]:
    with (folder / f"{name}.log").open("w") as log:
        process = subprocess.Popen(
            command, stdout=log, stderr=log, env={**os.environ, "HOME": str(folder), "OMP_NUM_THREADS": "1"}
        )
        try:
            yield
        finally:
            process.terminate()
            process.wait(60)


class Proxy:
    """A server behind the proxy, as somebody elsewhere reaches it."""

    def __init__(self, folder: Path, ledger: Path, port: int) -> None:
        self.base, self._ledger, self._port = f"https://{NAME}:{port}", ledger, port
        self._trust = ssl.create_default_context(cafile=str(folder / "cert.pem"))

    def invite(self, name: str, *more: str) -> str:
        command = [*TEPAL, "invite", name, "--ledger", str(self._ledger), "--url", self.base, "--json", *more]
        told = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
        link: str = told["link"]
        return link

    def guess(self, address: str, told: str) -> int:
        """An invitation that does not work, from an address of this machine."""
        sent = json.dumps({"code": "a guess", "device": "a phone"}).encode()
        line = f"POST /join HTTP/1.1\r\nHost: {NAME}:{self._port}\r\nContent-Type: application/json\r\n"
        line += f"X-Forwarded-For: {told}\r\nContent-Length: {len(sent)}\r\nConnection: close\r\n\r\n"
        with (
            socket.create_connection(("127.0.0.1", self._port), timeout=60, source_address=(address, 0)) as plain,
            self._trust.wrap_socket(plain, server_hostname=NAME) as safe,
        ):
            safe.sendall(line.encode() + sent)
            answer = b"".join(iter(lambda: safe.recv(65536), b""))
        return int(answer.split()[1])


@pytest.fixture
def proxy(tmp_path: Path, world: World) -> Iterator[Proxy]:
    """`tepal serve` on a copy of the office, with the proxy of the docs before it."""
    caddy = program("caddy")
    if not (caddy and program("openssl")):
        pytest.skip(f"{SAID}caddy and openssl, for the example of a proxy")
    certificate(tmp_path)
    tls, behind = free_port(), free_port()
    proxied = Proxy(tmp_path, Path(world.ledger.where), tls)
    file = example(tmp_path, tls, behind)
    serve = [*TEPAL, "serve", "--ledger", world.ledger.where, "--port", str(behind), "--public-url", proxied.base]
    with ExitStack() as stack:
        stack.enter_context(running([*serve, "--office", "Larkmoor County"], tmp_path, "tepal"))
        stack.enter_context(running([str(caddy), "run", "--config", str(file)], tmp_path, "caddy"))
        for _ in range(600):
            try:
                if proxied.guess("127.0.0.9", "") == 422:
                    break
            except OSError:
                pass
            time.sleep(0.1)
        yield proxied


def come_in(context: BrowserContext, link: str) -> Any:
    page = context.new_page()
    page.goto(link)
    page.get_by_label("This device").fill("Maria's phone")
    page.get_by_role("button").click()
    page.wait_for_url(lambda url: "/join" not in url)
    return page


@pytest.mark.slow
def test_through_the_proxy_of_the_docs_a_phone_joins_works_and_is_counted_by_its_own_address(proxy: Proxy) -> None:
    from playwright.sync_api import sync_playwright

    arguments = [*ARGUMENTS, f"--host-resolver-rules=MAP {NAME} 127.0.0.1", "--ignore-certificate-errors"]
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=executable(), args=arguments)
        context = browser.new_context(viewport={"width": 390, "height": 844})
        page = come_in(context, proxy.invite("Maria", "--role", "scout", "--site", OWN))
        cookie = next(one for one in context.cookies() if one["name"] == "__Host-tepal")
        assert (cookie["secure"], cookie["httpOnly"], cookie["sameSite"], cookie["path"]) == (True, True, "Strict", "/")
        assert page.evaluate("fetch('/me').then((answer) => answer.json())")["person"]["name"] == "Maria"
        # A change from our own page, through the proxy: the origin that a browser names is the name that was asked for.
        page.goto(f"{proxy.base}/sites/{OWN}")
        page.get_by_label("Language").select_option("es")
        page.get_by_role("button", name="Change").click()
        page.wait_for_url("**/sites/**")
        assert page.get_attribute("html", "lang") == "es"
        # A photo, in parts and with the answers' own headers, goes through as it is.
        digest, raw = picture(33)
        sent = page.evaluate(SEND, {"to": f"/photos/{digest}", "bytes": list(raw)})
        assert sent == {"status": 204, "offset": str(len(raw)), "complete": "?1"}
        browser.close()
    # What a phone says of itself is not what it is counted by; another phone is another.
    forged = [proxy.guess("127.0.0.2", f"198.51.100.{n}") for n in range(12)]
    assert forged == [422] * 10 + [429] * 2
    assert proxy.guess("127.0.0.3", "") == 422
