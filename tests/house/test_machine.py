"""The fixtures that stand on programs of the machine do what they promise."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from _require import program, require


def test_postgresql_is_real_fresh_and_not_rooted(postgresql_url: str) -> None:
    import psycopg

    with psycopg.connect(postgresql_url) as connection:
        assert connection.info.server_version >= 120000
        tables = connection.execute("select count(*) from pg_tables where schemaname = 'public'").fetchone()
        assert tables == (0,)
        connection.execute("create table seen (id int)")


def test_a_second_test_gets_an_empty_database(postgresql_url: str) -> None:
    import psycopg

    with psycopg.connect(postgresql_url) as connection:
        connection.execute("create table seen (id int)")


def test_chromium_opens_a_page(chromium_page: Any) -> None:
    chromium_page.set_content("<h1>Larkmoor</h1>")
    assert chromium_page.evaluate("document.querySelector('h1').innerText") == "Larkmoor"


def test_require_gives_back_what_is_present() -> None:
    assert require("Python", "/bin/python") == "/bin/python"


def test_require_skips_and_with_the_switch_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("TEPAL_REQUIRE_ALL", raising=False)
    with pytest.raises(pytest.skip.Exception, match="not on this machine: Clockwork"):
        require("Clockwork", None)
    monkeypatch.setenv("TEPAL_REQUIRE_ALL", "1")
    with pytest.raises(pytest.fail.Exception, match="Clockwork"):
        require("Clockwork", program("no-such-program-anywhere"))


def test_left_out_tests_are_named_at_the_end(pytester: pytest.Pytester) -> None:
    here = Path(__file__).resolve().parent.parent
    pytester.makeconftest((here / "conftest.py").read_text(encoding="utf-8"))
    pytester.makepyfile("from _require import require\ndef test_browser():\n    require('Chromium', None)\n")
    pytester.makeini(f"[pytest]\npythonpath = {here}\n")
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("TEPAL_REQUIRE_ALL", raising=False)
        result = pytester.runpytest_subprocess()
    result.stdout.fnmatch_lines(["*left out for want of a program*", "*test_browser*(needs Chromium)"])
