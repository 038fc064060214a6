"""A person forgotten: the bytes are gone, the log is whole, what was seen still reads, nothing else can be changed."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from tepal.cli import main
from tepal.ledger import Entry, Ledger, clear_traces, entry, forget, give, history, site_log, take
from tepal.reading import read
from tepal.tables import Refused

NAME, CONTACT, WORDS = "Wilhelmina Testfall", "555-0147 evenings", "it stands behind our blue barn"
SECRETS = (NAME, "Testfall", CONTACT, WORDS, "blue barn")


def _entries() -> list[Entry]:
    at = "2026-06-20T15:00:00Z"
    site = entry("site", {"name": "West Forty", "ground": "field"}, by="office", site="west", made_at=at)
    party = entry(
        "party",
        {"name": NAME, "roles": ["farms"], "contact": CONTACT, "consent_to_enter": True},
        by="office",
        site="west",
        made_at=at,
    )
    amended = entry(
        "party", {"name": NAME, "roles": ["farms", "owner"]}, by="office", site="west", made_at=at, amends=party.id
    )
    report = entry(
        "report",
        {"how": "call", "who": NAME.lower(), "words": WORDS, "place": {"words": WORDS, "point": [-45.0, 41.5]}},
        by="office",
        site="west",
        made_at=at,
    )
    walk = entry("walk", {"who": NAME, "found": 0, "minutes": 30.0}, by=NAME, site="west", made_at=at)
    note = entry("note", {"words": f"asked {NAME} at {CONTACT} again"}, by="office", site="west", made_at=at)
    other = entry("party", {"name": "The landlord", "roles": ["owner"]}, by="office", site="west", made_at=at)
    return [site, party, amended, report, walk, note, other]


@pytest.fixture
def known(ledger: Ledger) -> list[Entry]:
    made = _entries()
    assert not ledger.add(made).refused
    return made


def test_what_is_left_is_ids_and_hashes_and_what_was_seen(ledger: Ledger, known: list[Entry]) -> None:
    before = {one.id: one.content_hash() for one in ledger.entries()}
    found = forget(ledger, known[1].id)
    assert found.cleared
    assert found.left == ()
    assert set(found.removed) == {known[1].id, known[2].id}
    assert set(found.thinned) == {known[3].id, known[4].id, known[5].id}
    after = ledger.entries()
    assert {one.id: one.content_hash() for one in after} == before
    assert [one.seq for one in after] == list(range(1, 8))
    told = json.dumps([one.plain() for one in after])
    assert not [secret for secret in SECRETS if secret.casefold() in told.casefold()]
    # The walk still says that nothing was found, and the place that was claimed is still on the map.
    assert ledger.get(known[4].id).body.found == 0  # type: ignore[union-attr]
    assert ledger.get(known[3].id).body.place.point == (-45.0, 41.5)  # type: ignore[union-attr]
    assert [one.body.name for one in ledger.standing("west").of("party")] == ["The landlord"]  # type: ignore[attr-defined]
    assert len(history(site_log(ledger, "west"))) == 7


def test_a_reading_still_works(ledger: Ledger, known: list[Entry]) -> None:
    forget(ledger, NAME)
    found = read(ledger, "west", as_of=date(2026, 7, 1))
    assert found.facts["none_seen"]
    assert found.facts["consent"] is None


@pytest.mark.parametrize("open_elsewhere", [False, True])
def test_no_byte_of_it_is_left_in_the_files(tmp_path: Path, open_elsewhere: bool) -> None:
    where = tmp_path / "county.ledger"
    with Ledger.open(where, create=True) as ledger:
        ledger.add(_entries())
    files = lambda: b"".join(path.read_bytes() for path in sorted(tmp_path.glob("county.ledger*")))  # noqa: E731
    assert NAME.encode() in files() and WORDS.encode() in files()
    with closing(sqlite3.connect(where)) as other:
        if open_elsewhere:
            # Connected, but not in the middle of reading.
            other.execute("SELECT count(*) FROM entry").fetchone()
        with Ledger.open(where) as ledger:
            assert forget(ledger, NAME).cleared
            left = files().lower()
            assert [secret for secret in SECRETS if secret.lower().encode() in left] == []


def test_a_reader_in_between_is_told_of_and_a_second_run_clears(tmp_path: Path) -> None:
    where = tmp_path / "county.ledger"
    with Ledger.open(where, create=True) as ledger:
        ledger.add(_entries())
        other = sqlite3.connect(where, isolation_level=None)
        other.execute("BEGIN")
        other.execute("SELECT count(*) FROM entry").fetchone()
        with closing(other):
            ledger._engine.dispose()
            assert forget(ledger, NAME).cleared is False
        assert clear_traces(ledger)
        data = b"".join(path.read_bytes() for path in tmp_path.glob("county.ledger*"))
        assert NAME.encode() not in data


def test_on_postgresql_the_table_is_written_anew(postgresql_url: str, tmp_path: Path) -> None:
    with Ledger.open(postgresql_url, create=True, photos=tmp_path) as ledger:
        ledger.add(_entries())
        node = "SELECT pg_relation_filepath('entry')"
        with ledger._engine.connect() as connection:
            before = connection.execute(text(node)).scalar()
        assert forget(ledger, NAME).cleared
        with ledger._engine.connect() as connection:
            assert connection.execute(text(node)).scalar() != before


def test_what_is_given_out_has_the_tombstones_and_is_taken_in_again(
    ledger: Ledger, known: list[Entry], tmp_path: Path
) -> None:
    give(ledger, tmp_path / "before")
    forget(ledger, NAME)
    give(ledger, tmp_path / "out")
    given = b"".join(path.read_bytes() for path in (tmp_path / "out").rglob("*") if path.is_file())
    assert not [secret for secret in SECRETS if secret.encode() in given]
    new = tmp_path / "new.ledger"
    assert take([tmp_path / "out"], new).added == 7
    with Ledger.open(new) as copy:
        assert [one.text() for one in copy.entries()] == [one.text() for one in ledger.entries()]
    # Neither form is new to the other, and what was forgotten does not come back.
    assert take([tmp_path / "before"], new).refused == ()
    assert take([tmp_path / "before"], new).added == 0
    with Ledger.open(new) as copy:
        assert copy.get(known[1].id).kind == "forgotten"  # type: ignore[union-attr]


ALLOWED = "UPDATE entry SET forgotten = 'x', \"by\" = '(forgotten)' WHERE seq = 1"


@pytest.mark.parametrize(
    "statement",
    [
        "DELETE FROM entry WHERE seq = 1",
        "UPDATE entry SET body = '{}' WHERE seq = 1",
        "UPDATE entry SET \"by\" = '(forgotten)' WHERE seq = 1",
        'UPDATE entry SET forgotten = \'x\', body = \'{"name":"Other","ground":"field"}\' WHERE seq = 1',
        "UPDATE entry SET forgotten = 'x', \"by\" = 'somebody' WHERE seq = 1",
        "UPDATE entry SET forgotten = 'x', hash = 'y' WHERE seq = 1",
        "UPDATE entry SET forgotten = 'x', seq = 99 WHERE seq = 1",
        "UPDATE entry SET forgotten = 'x', kind = 'note' WHERE seq = 1",
        "UPDATE entry SET forgotten = 'x', kind = 'forgotten' WHERE seq = 1",
        "UPDATE entry SET forgotten = 'x', kind = 'forgotten', body = '{\"was\":\"note\"}' WHERE seq = 1",
        "UPDATE entry SET forgotten = NULL WHERE seq = 2",
    ],
)
def test_the_store_allows_no_other_change(ledger: Ledger, known: list[Entry], statement: str) -> None:
    forget(ledger, NAME)
    held = ledger.entries()
    with pytest.raises(DBAPIError, match="append-only"), ledger._engine.begin() as connection:
        connection.execute(text(statement.replace(":", r"\:")))
    assert ledger.entries() == held
    with ledger._engine.begin() as connection:
        connection.execute(text(ALLOWED))


def test_an_amendment_of_what_was_forgotten_is_refused(ledger: Ledger, known: list[Entry]) -> None:
    forget(ledger, NAME)
    late = entry("party", {"name": NAME, "roles": ["farms"]}, by="office", site="west", amends=known[1].id)
    (refused,) = ledger.add([late]).refused
    assert "forgotten" in str(refused.why)


def test_a_name_that_is_a_common_word_stays_a_word(ledger: Ledger) -> None:
    ledger.add(
        [
            entry("party", {"name": "Palmer", "roles": ["farms"]}, by="office", site="west"),
            entry("note", {"words": "Palmer amaranth at the gate"}, by="office", site="west"),
        ]
    )
    found = forget(ledger, "palmer")
    assert len(found.removed) == 1
    assert len(found.left) == 1
    assert "Palmer amaranth" in str(ledger.entries(kinds=("note",))[0].body)


def test_nobody_is_refused(ledger: Ledger, known: list[Entry]) -> None:
    for who in ("No Such Person", known[3].id, ""):
        with pytest.raises(Refused):
            forget(ledger, who)


def test_the_command_asks_first(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    where = str(tmp_path / "county.ledger")
    with Ledger.open(where, create=True) as ledger:
        ledger.add(_entries())
    assert main(["forget", NAME, "--ledger", where]) == 2
    said = capsys.readouterr()
    assert said.out == "" and said.err.count("\n") == 1 and "--yes" in said.err
    with Ledger.open(where) as ledger:
        assert len(ledger.entries(kinds=("party",))) == 3
    assert main(["forget", NAME, "--ledger", where, "--yes", "--json"]) == 0
    out = json.loads(capsys.readouterr().out)
    assert (len(out["removed"]), len(out["thinned"]), out["cleared"]) == (2, 3, True)


def test_forget_without_a_name_says_what_it_did(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    where = tmp_path / "county.ledger"
    Ledger.open(where, create=True).close()
    assert main(["forget", "--ledger", str(where)]) == 0
    assert "name one" in capsys.readouterr().out
