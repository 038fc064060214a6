"""Fixtures that stand on programs of the machine, and the list of tests that had to be left out for want of one."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, settings

from _chromium import ARGUMENTS, executable
from _require import SAID, program, require

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

# Before anything loads a number library: threads of its own help nobody where tests run on all cores already.
for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")

# How long an example takes says how busy the machine is. Where all must pass, the same examples are taken each time;
# who works on the code tries new ones with every run.
settings.register_profile("new examples", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("same examples", settings.get_profile("new examples"), derandomize=True, print_blob=True)
settings.load_profile("same examples" if os.environ.get("TEPAL_REQUIRE_ALL") else "new examples")

pytest_plugins = ["pytester"]
ROOT = Path(__file__).resolve().parent.parent
_database_number = count(1)


@pytest.fixture(scope="session")
def _postgresql_socket() -> Iterator[str]:
    """The socket folder of a PostgreSQL server that lives as long as the test run."""
    folders = ("/usr/lib/postgresql/*/bin", "/usr/local/pgsql/bin")
    initdb = require("PostgreSQL", program("initdb", folders=folders))
    pg_ctl = require("PostgreSQL", program("pg_ctl", folders=folders))
    # Not pytest's own folder: it is closed to other users, and the socket's path must stay short.
    folder = Path(tempfile.mkdtemp(prefix="tepal-pg-"))
    as_owner: list[str] = []
    if os.geteuid() == 0:
        # The server refuses to run as root.
        require("a user named postgres", shutil.which("runuser"))
        shutil.chown(folder, "postgres")
        as_owner = ["runuser", "-u", "postgres", "--"]
    data, log = folder / "data", folder / "log"

    def run(*command: str) -> None:
        done = subprocess.run(
            [*as_owner, *command],
            check=False,
            cwd=folder,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            timeout=120,
        )
        if done.returncode:
            said = log.read_text() if log.exists() else ""
            raise RuntimeError(f"{command[0]} failed:\n{done.stdout}{done.stderr}{said}")

    try:
        run(initdb, "-D", str(data), "-U", "tepal", "--auth=trust", "--no-sync", "-E", "UTF8", "--locale=C")
        options = f"-c listen_addresses= -k {folder} -c fsync=off -c full_page_writes=off -c synchronous_commit=off"
        # The log goes to a file: a server that keeps our pipe open would never let `run` return.
        run(pg_ctl, "-D", str(data), "-w", "-t", "60", "-l", str(log), "-o", options, "start")
        try:
            yield str(folder)
        finally:
            run(pg_ctl, "-D", str(data), "-m", "immediate", "-w", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def postgresql_url(_postgresql_socket: str) -> Iterator[str]:
    """A fresh, empty database on a real PostgreSQL, as `postgresql://…`; dropped after the test."""
    import psycopg

    name = f"tepal_{next(_database_number)}"
    with psycopg.connect(host=_postgresql_socket, user="tepal", dbname="postgres", autocommit=True) as server:
        server.execute(f"create database {name}")
        yield f"postgresql://tepal@/{name}?host={_postgresql_socket}"
        server.execute(f"drop database {name} with (force)")


@pytest.fixture(scope="module")
def _chromium() -> Iterator[Browser]:
    """A browser for one module. Not for the session: while it is open no other test could use asyncio."""
    from playwright.sync_api import sync_playwright

    path = executable()
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=path, args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def chromium_page(_chromium: Browser) -> Iterator[Page]:
    """A blank page in a new, empty browser context."""
    context = _chromium.new_context()
    yield context.new_page()
    context.close()


@pytest.fixture(scope="session")
def real_data() -> Path:
    """The folder of real boundaries and weather, where there is one: TEPAL_DATA, else ../shared/data of the repository.

    It is no program that could be installed, so its absence is a plain skip even with TEPAL_REQUIRE_ALL=1.
    """
    folder = Path(os.environ.get("TEPAL_DATA") or ROOT.parent / "shared" / "data")
    if not folder.is_dir():
        pytest.skip("no real data here (TEPAL_DATA names their folder)")
    return folder


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Name every test that was left out because the machine lacks a program."""
    left_out = [
        (report.nodeid, report.longrepr[2].partition(SAID)[2])
        for report in terminalreporter.stats.get("skipped", [])
        if isinstance(report.longrepr, tuple) and SAID in report.longrepr[2]
    ]
    if left_out:
        terminalreporter.section("left out for want of a program on this machine")
        for test, name in left_out:
            terminalreporter.write_line(f"{test}  (needs {name})")
