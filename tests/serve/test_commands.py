"""`tepal serve` and `tepal invite`, as a person types them; and what no other command has to wait for."""

from __future__ import annotations

import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from _ports import free_port
from tepal.cli import main
from tepal.ledger import Ledger
from tepal.serve import Office

TEPAL = [sys.executable, "-m", "tepal"]


def said(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    code = main(arguments)
    out, err = capsys.readouterr()
    return code, out, err


@contextmanager
def serving(ledger: Path, *more: str) -> Iterator[str]:
    """A server of its own process, until it is asked to stop; its address."""
    port = free_port()
    process = subprocess.Popen(
        [*TEPAL, "serve", "--ledger", str(ledger), "--port", str(port), *more],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={**os.environ, "OMP_NUM_THREADS": "1"},
    )
    address = f"http://127.0.0.1:{port}"
    try:
        for _ in range(600):
            assert process.poll() is None, process.communicate()
            try:
                urllib.request.urlopen(f"{address}/openapi.json", timeout=10).read()
                break
            except OSError:
                time.sleep(0.1)
        yield address
    finally:
        process.send_signal(signal.SIGTERM)
        out, _ = process.communicate(timeout=60)
    assert out == b""


def asked(address: str, path: str, *, body: Any = None, **headers: str) -> tuple[int, Any, dict[str, str]]:
    data = None if body is None else json.dumps(body).encode()
    request = urllib.request.Request(address + path, data, {"content-type": "application/json"} | headers)
    try:
        with urllib.request.urlopen(request, timeout=60) as answer:
            return answer.status, json.loads(answer.read()), {k.lower(): v for k, v in answer.headers.items()}
    except urllib.error.HTTPError as problem:
        return problem.code, json.loads(problem.read()), {k.lower(): v for k, v in problem.headers.items()}


def test_the_first_person_is_a_coordinator_and_the_link_works_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ledger = tmp_path / "county.ledger"
    code, out, err = said(capsys, "invite", "Cora Lindgren", "--ledger", str(ledger), "--json")
    assert (code, err) == (0, "")
    told = json.loads(out)
    assert told["person"]["role"] == "coordinator"
    # What stands behind # is sent to no server, and so stands in no log of one.
    assert told["link"] == f"http://127.0.0.1:8321/join#{told['code']}"
    with serving(ledger, "--office", "Larkmoor County") as address:
        joining = {"code": told["code"], "device": "desk", "hold": "token"}
        status, made, headers = asked(address, "/join", body=joining)
        assert status == 201
        assert made["person"]["name"] == "Cora Lindgren"
        assert "server" not in headers
        assert asked(address, "/join", body=joining)[0] == 422
        token = f"Bearer {made['token']}"
        assert asked(address, "/me", authorization=token)[1]["device"]["name"] == "desk"
        assert asked(address, "/me")[0] == 401
        # No proxy was told of: what somebody says of how they came is not believed.
        through = asked(address, "/me", **{"X-Forwarded-Proto": "https", "X-Forwarded-For": "203.0.113.9"})[2]
        assert "strict-transport-security" not in through
        # Somebody invited while the server runs can come in.
        _, out, _ = said(capsys, "invite", "Sam", "--ledger", str(ledger), "--json")
        sam = json.loads(out)
        assert sam["person"]["role"] == "scout"
        assert asked(address, "/join", body={"code": sam["code"], "device": "phone"})[0] == 201
        note = {"id": "019eb4a2-2a28-7000-8000-000000000001", "kind": "note", "made_at": "2026-06-18T13:58:40-05:00"}
        sent = {"entries": [note | {"body": {"words": "kept"}}]}
        assert asked(address, "/entries", body=sent, authorization=token)[1]["answers"][0]["outcome"] == "added"
    with Ledger.open(ledger) as book:
        assert [(e.by, e.kind) for e in book.entries()] == [("Cora Lindgren", "note")]


def test_who_is_known_keeps_their_role_and_gets_their_sites(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ledger = str(tmp_path / "county.ledger")
    entries = tmp_path / "entries.jsonl"
    site = {"kind": "site", "site": "creek-bottom", "by": "x", "made_at": "2026-06-01T00:00:00Z"}
    site |= {"id": "019eb4a2-2a28-7000-8000-000000000002", "body": {"name": "Creek Bottom", "ground": "field"}}
    entries.write_text(json.dumps(site))
    assert said(capsys, "take", str(entries), "--ledger", ledger)[0] == 0
    assert said(capsys, "invite", "Cora", "--ledger", ledger)[0] == 0
    code, out, _ = said(
        capsys, "invite", "Gil Farmer", "--role", "grower", "--site", "Creek Bottom", "--ledger", ledger
    )
    assert code == 0
    assert re.search(r"https?://\S+/join#\S{20,}", out)
    assert said(capsys, "invite", "gil  farmer", "--ledger", ledger)[0] == 0
    for wrong in (
        ("--role", "coordinator"),
        ("--site", "No Such Field"),
        ("--days", "400"),
        ("--days", "0"),
        ("--role", "chief"),
    ):
        code, out, err = said(capsys, "invite", "Gil Farmer", "--ledger", ledger, *wrong)
        assert (code, out, len(err.splitlines())) == (2, "", 1), wrong
    with Ledger.open(ledger) as book:
        people = {one.name: (one.role, one.sites) for one in Office(book).people()}
    assert people == {"Cora": ("coordinator", frozenset()), "Gil Farmer": ("grower", frozenset({"creek-bottom"}))}


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--host", "0.0.0.0"), "TLS"),
        (("--host", "192.168.1.20"), "TLS"),
        (("--host", "::"), "TLS"),
        (("--public-url", "http://weeds.example.org"), "https"),
        (("--public-url", "weeds.example.org"), "https"),
        (("--zone", "Larkmoor/Time"), "zone"),
        (("--port", "web"), ""),
        (("--port", "-1"), "from 0 to 65535"),
        (("--port", "65536"), "from 0 to 65535"),
    ],
)
def test_a_port_that_others_reach_is_refused_without_a_proxy(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: tuple[str, str], told: str
) -> None:
    ledger = tmp_path / "county.ledger"
    code, out, err = said(capsys, "serve", "--ledger", str(ledger), *arguments)
    assert (code, out, len(err.splitlines())) == (2, "", 1)
    assert told in err
    assert not ledger.exists()


def test_a_port_that_is_taken_is_refused_before_anything_is_made(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ledger = tmp_path / "county.ledger"
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        code, out, err = said(capsys, "serve", "--ledger", str(ledger), "--port", str(port))
    assert (code, out, len(err.splitlines())) == (2, "", 1)
    assert f"{port}/ cannot be taken" in err
    assert not ledger.exists()


@pytest.mark.parametrize("room", ["tepal.cli._app", "tepal.serve", "tepal.serve._invite"])
def test_only_serve_waits_for_the_library_of_the_web(room: str) -> None:
    script = f"import sys, {room}; from tepal.cli._app import _register_once; _register_once(); print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True, timeout=60)
    assert room in done.stdout.split()
    assert {"fastapi", "starlette", "uvicorn"} & set(done.stdout.split()) == set()
