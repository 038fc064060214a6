"""A person's data removed for good; what is left of each entry is its id and its hash, so that the log stays whole."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import delete, update
from sqlalchemy.exc import DBAPIError

from tepal.ledger._append_only import FORGOTTEN
from tepal.ledger._bodies import Drill, Letter, Party, Report, Sound, Walk
from tepal.ledger._engine import take_lock, writing
from tepal.ledger._entry import Entry, body_plain, entry_from_plain
from tepal.ledger._forget_original import is_original, remove_original, without_original
from tepal.ledger._ids import canonical
from tepal.ledger._schema import entries as entry_table
from tepal.ledger._schema import handed_in
from tepal.ledger._sqlite import LOCK_SECONDS
from tepal.ledger._store import Ledger
from tepal.ledger.formats._sounds import SOUND_EXTENSIONS
from tepal.tables import Refused

_LINE = "command line"
# Shorter contacts ("ext. 5") could be anything.
_LEAST_CONTACT = 6


@dataclass(frozen=True, slots=True)
class Forgetting:
    """What forgetting a person does. `removed`: entries of which id and hash are left; `thinned`: entries that keep
    what was seen, without the person; `left`: entries that still hold the name (a site's id, a common word).

    `photos`: photos that came with the person's reports, which are kept; `sounds`: voice notes that the person spoke,
    which are not; `originals`: files of one photo or voice note that was named. `cleared`: the bytes are gone from the
    store's files as well; None before anything was done.
    """

    name: str
    removed: tuple[str, ...]
    thinned: tuple[str, ...]
    left: tuple[str, ...]
    photos: int
    sounds: int = 0
    originals: int = 0
    cleared: bool | None = None


def forget(ledger: Ledger, who: str, *, do: bool = True) -> Forgetting:
    """Forget a person, by name or by the id of a `party` entry, or one photo or voice note, by the id of its entry.

    `do=False` only says what would be done.

    Gone are the person's party entries, answers in practice and voice notes, with their recordings; the name wherever
    it stands as a person's (who reported, walked, signed, was written to, made an entry) or, where it has two words or
    more, in any remark; the person's contact; the words and the claimed place of the person's reports. What was seen
    stays. Of a photo or voice note its entries go, with whatever amended them, and the original itself.

    Raises
    ------
    Refused
        If nobody is called so; or if originals are to go and it is not known where they lie.
    """
    log = ledger.entries()
    if is_original(one := ledger.get(who.strip().lower())):
        assert one is not None
        return _forget_original(ledger, log, one, do=do)
    name = _name(ledger, who)
    if not any(_same(one, name) for entry in log for one in _people(entry)):
        raise Refused(
            f"nobody is called {who!r}",
            where=_LINE,
            rule="A person is named as in the record, or by the id of a party entry.",
            step="`tepal party --site SITE` lists who is on record.",
        )
    contacts = {
        str(one.body.contact)
        for one in log
        if isinstance(one.body, Party) and _same(one.body.name, name) and one.body.contact
    }
    hide = _hider(name, [contact for contact in contacts if len(contact) >= _LEAST_CONTACT])
    voices = {str(one.body.sha256) for one in log if isinstance(one.body, Sound) and _same(one.by, name)}
    changed = [new for one in log if (new := _without(one, name, hide, voices)) is not None]
    after = {one.id: one for one in log} | {one.id: one for one in changed}
    told = re.compile(rf"(?<!\w){_loose(name)}(?!\w)", re.IGNORECASE)
    left = tuple(
        one.id for one in after.values() if told.search(one.site or "") or told.search(canonical(body_plain(one.body)))
    )
    photos = {
        photo for one in log if isinstance(one.body, Report) and _same(one.body.who, name) for photo in one.body.photos
    }
    found = Forgetting(
        name,
        tuple(one.id for one in changed if one.kind == "forgotten"),
        tuple(one.id for one in changed if one.kind != "forgotten"),
        left,
        len(photos),
        len(voices),
    )
    if not do:
        return found
    recordings = [ledger.photos / f"{one}{suffix}" for one in voices for suffix in SOUND_EXTENSIONS.values()]
    _write(ledger, changed)
    for path in recordings:
        path.unlink(missing_ok=True)
    return replace(found, cleared=clear_traces(ledger))


def _forget_original(ledger: Ledger, log: Sequence[Entry], one: Entry, *, do: bool) -> Forgetting:
    gone = without_original(log, one.id)
    found = Forgetting(
        one.id,
        tuple(each.id for each in gone.changed if each.kind == "forgotten"),
        tuple(each.id for each in gone.changed if each.kind != "forgotten"),
        (),
        photos=0,
        originals=1,
    )
    if not do:
        return found
    _ = ledger.photos  # or nothing is begun
    _write(ledger, gone.changed)
    remove_original(ledger, gone.sha256)
    return replace(found, cleared=clear_traces(ledger))


def clear_traces(ledger: Ledger) -> bool:
    """Rewrite the store so that no bytes of what was changed are left in its files; False if others hold it open.

    On PostgreSQL the server's own logs and backups are its keeper's.
    """
    engine = ledger._engine
    try:
        if engine.dialect.name == "sqlite":
            with closing(engine.raw_connection()) as raw:
                cursor = raw.cursor()
                cursor.execute("PRAGMA secure_delete=ON")
                cursor.execute("VACUUM")
                cursor.execute("PRAGMA busy_timeout=2000")  # a reader that stays is told of rather than waited for
                # The log still holds the pages as they were, until it is emptied into the file.
                emptied = cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0] == 0
                cursor.execute(f"PRAGMA busy_timeout={LOCK_SECONDS * 1000}")
                return bool(emptied)
        with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
            connection.exec_driver_sql("VACUUM FULL entry")
    except Exception as problem:
        # The driver's own errors come through a raw connection.
        if isinstance(problem, DBAPIError) or type(problem).__module__.partition(".")[0] in {"sqlite3", "psycopg"}:
            return False
        raise
    return True


def _write(ledger: Ledger, changed: Sequence[Entry]) -> None:
    now = datetime.now(UTC).isoformat()
    with writing(ledger._engine) as connection, connection.begin():
        take_lock(connection)
        if connection.dialect.name == "sqlite":
            connection.exec_driver_sql("PRAGMA secure_delete=ON")
        for one in changed:
            connection.execute(
                update(entry_table)
                .where(entry_table.c.id == one.id)
                .values(kind=one.kind, by=one.by, body=canonical(body_plain(one.body)), forgotten=now)
            )
            if one.by == FORGOTTEN:
                # Whose device handed it in would still say who that was.
                connection.execute(delete(handed_in).where(handed_in.c.entry == one.id))


def _name(ledger: Ledger, who: str) -> str:
    one = ledger.get(who.strip().lower())
    if one is None:
        return " ".join(who.split())
    if not isinstance(one.body, Party):
        raise Refused(
            f"{who} is a {one.kind} entry",
            where=_LINE,
            rule="A person is named, or given by the id of a party entry; a photo or voice note by its entry's id.",
            step="Give the name. `tepal history SITE` tells the ids.",
        )
    return " ".join(one.body.name.split())


def _people(one: Entry) -> tuple[str | None, ...]:
    body = one.body
    if isinstance(body, Party):
        return one.by, body.name
    if isinstance(body, (Report, Walk)):
        return one.by, body.who
    if isinstance(body, Letter):
        return one.by, body.to, body.signed_by
    return (one.by, body.reader) if isinstance(body, Drill) else (one.by,)


def _same(text: str | None, name: str) -> bool:
    return text is not None and text != FORGOTTEN and " ".join(text.split()).casefold() == name.casefold()


def _loose(text: str) -> str:
    return r"\s+".join(re.escape(part) for part in text.split())


def _hider(name: str, contacts: Sequence[str]) -> re.Pattern[str]:
    """What is hidden inside longer texts. A name of one word may be a word ("Palmer"), so it is not."""
    hidden = [_loose(contact) for contact in sorted(contacts, key=len, reverse=True)]
    if " " in name:
        hidden.append(_loose(name))
    inside = "|".join(hidden) or r"(?!)"
    return re.compile(rf"\A\s*{_loose(name)}\s*\Z|(?<!\w)(?:{inside})(?!\w)", re.IGNORECASE)


def _without(one: Entry, name: str, hide: re.Pattern[str], voices: Collection[str]) -> Entry | None:
    """The entry without the person, None where it has nothing of them."""
    body, kind = one.body, one.kind
    about = (
        (isinstance(body, Party) and _same(body.name, name))
        or (isinstance(body, Drill) and _same(body.reader, name))
        # Whoever amended it: it is the voice of this person all the same.
        or (isinstance(body, Sound) and body.sha256 in voices)
    )
    plain = body_plain(body)
    new: Any = {"was": kind} if about else _hidden(plain, hide)
    if isinstance(body, Report) and _same(body.who, name):
        new["words"] = FORGOTTEN
        place = {key: value for key, value in new.get("place", {}).items() if key != "words"}
        new = {key: value for key, value in new.items() if key != "place"} | ({"place": place} if place else {})
    by = FORGOTTEN if _same(one.by, name) else one.by
    if new == plain and by == one.by:
        return None
    data = one.plain() | {
        "kind": "forgotten" if about else kind,
        "by": by,
        "body": new,
        "forgotten": one.content_hash(),
    }
    return entry_from_plain(data, where=f"entry {one.id}")


def _hidden(value: Any, hide: re.Pattern[str]) -> Any:
    if isinstance(value, str):
        return hide.sub(FORGOTTEN, value)
    if isinstance(value, dict):
        return {key: _hidden(item, hide) for key, item in value.items()}
    return [_hidden(item, hide) for item in value] if isinstance(value, list) else value
