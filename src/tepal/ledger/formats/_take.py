"""Taking files into a ledger: everything that is good in one transaction, everything else refused by name."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any

from tepal.ledger._bodies import Site
from tepal.ledger._engine import is_url
from tepal.ledger._entry import Entry, body_plain, entry
from tepal.ledger._ids import canonical, row_id
from tepal.ledger._sites import SiteBook, misspelled
from tepal.ledger._store import Ledger
from tepal.ledger._writer import Added, Writer
from tepal.ledger.formats._boundaries import SiteDraft
from tepal.ledger.formats._drafts import Defaults, Vocabulary, with_ids
from tepal.ledger.formats._gather import NOBODY, Gathered, Understanding, gather
from tepal.ledger.formats._ground import SiteGround, far, sites_in_us, standing_sites
from tepal.ledger.formats._photos import PhotoFile, keep
from tepal.ledger.formats._sounds import SoundFile
from tepal.tables import Refused, Where


@dataclass(frozen=True, slots=True)
class Taken:
    """What came of taking files in. Entries and days of weather are counted alike."""

    added: int
    already: int
    refused: tuple[Refused, ...]
    understood: tuple[Understanding, ...]
    noticed: tuple[str, ...] = ()
    """What was taken and may be a slip."""
    new_sites: tuple[str, ...] = ()
    """Sites that the record did not know, and of which it now knows no more than the name."""


def take(
    paths: Sequence[Path],
    where: str | Path,
    *,
    defaults: Defaults | None = None,
    words: Vocabulary | None = None,
    photos: Path | None = None,
    corrects: bool = False,
    insist: bool = False,
) -> Taken:
    """Take files into the ledger at `where`, which is made if it is not there and anything is to be written.

    All that is good is added in one transaction; what is not is refused, each line by name. Taking the same files
    again adds nothing. `corrects` lets days of weather replace those that are known otherwise. `insist` takes what
    looks like a slip: a site's name that is nearly that of another, a place far from its site.

    Raises
    ------
    Refused
        If the ledger cannot be opened.
    """
    defaults = defaults or Defaults()
    there = is_url(where) or Path(where).exists()
    if there:
        defaults = replace(defaults, sites_in_us=sites_in_us(_known_sites(where)))
    gathered = gather(paths, words or Vocabulary(), defaults, corrects=corrects)
    if not gathered.anything:
        if there:
            Ledger.open(where, photos=photos).close()
        return Taken(0, 0, tuple(gathered.refused), tuple(gathered.understood))
    with Ledger.open(where, create=True, photos=photos) as ledger:
        if gathered.photos or gathered.sounds or gathered.originals:
            # Before the transaction: an original without an entry harms nobody, an entry without its original does.
            for original in (*gathered.photos, *gathered.sounds, *gathered.originals):
                keep(original, ledger.photos)
        with ledger.writing() as writer:
            taking = _Taking(ledger, writer, defaults, insist=insist)
            added = taking.all(gathered)
    refused = (*gathered.refused, *taking.refused, *(one.why for one in added.refused))
    return Taken(
        added.added, added.already, refused, tuple(gathered.understood), tuple(taking.noticed), taking.only_named()
    )


def _known_sites(where: str | Path) -> dict[str, Site]:
    try:
        with Ledger.open(where) as ledger:
            return standing_sites(ledger)
    except Refused:
        return {}  # a database without a ledger yet; whatever else is wrong with it, opening it to write says


class _Taking:
    """One transaction of taking."""

    def __init__(self, ledger: Ledger, writer: Writer, defaults: Defaults, *, insist: bool) -> None:
        # Under the lock nobody else writes: what is read here stays true until the end.
        self._writer = writer
        self._defaults = defaults
        self._by = defaults.by or NOBODY
        self._now = datetime.now(UTC)
        self._book = SiteBook(ledger.sites())
        self._ledger = ledger
        self._sites: dict[str, Entry | None] = {}
        self._ground = SiteGround(standing_sites(ledger))
        self._insist = insist
        self._slips: dict[str, Refused] = {}
        self._new: dict[str, None] = {}
        self.refused: list[Refused] = []
        self.noticed: list[str] = []

    def all(self, gathered: Gathered) -> Added:
        total = self._add_entries(gathered.entries)
        total += self._add_drawn(gathered.drawn)
        for draft in gathered.sites:
            try:
                total += self._add_site(draft)
            except Refused as problem:
                self.refused.append(problem)
        for rows in gathered.rows:
            total += self._add_rows(with_ids(rows, self._site, self.refused))
        for stem, rows in gathered.marks:
            total += self._add_rows(with_ids(rows, partial(self._site_of_mark, stem), self.refused))
        for photo in gathered.photos:
            total += self._add_photo(photo)
        for sound in gathered.sounds:
            total += self._add_sound(sound)
        for file, batch in gathered.batches:
            total += self._writer.add_weather([batch], file=file)
        return total

    def _add_entries(self, entries: Iterable[tuple[Entry, Where]]) -> Added:
        pairs = list(entries)
        for one, _ in pairs:
            self._book.learn(one)
            if one.kind == "site" and one.site is not None:
                self._sites[one.site] = one
                self._ground.learn(one.site, one.body)  # type: ignore[arg-type]
        # Entries come from a device or another ledger, which keep their own counsel: told, and taken.
        known = self._writer.known(one.id for one, _ in pairs)
        self.noticed += [str(one) for one in far(((e, where) for e, where in pairs if e.id not in known), self._ground)]
        return self._writer.add([one for one, _ in pairs], where={one.id: where for one, where in pairs})

    def _add_rows(self, pairs: Sequence[tuple[Entry, Where]]) -> Added:
        """Rows and marks; those that lie far from their site are refused, or told where the person insists."""
        known = self._writer.known(one.id for one, _ in pairs)
        strange = far(((one, where) for one, where in pairs if one.id not in known), self._ground)
        if self._insist:
            self.noticed += [str(one) for one in strange]
        else:
            self.refused += strange
            out = {one.where for one in strange}
            pairs = [(one, where) for one, where in pairs if where not in out]
        return self._new_only(pairs)

    def _site(self, name: str, where: Where) -> str:
        """The id of the site that a name means. A new one is made of a name only where no other is nearly so called."""
        if name in self._slips:
            raise self._slips[name].at(Where(where.file, where.line, where.column or "site"))
        if self._knows(name):
            return self._book.meant(name)
        nearly = [] if self._insist else self._book.nearly(name)
        if nearly:
            self._slips[name] = misspelled(name, nearly, where)
            raise self._slips[name]
        id = self._book.meant(name)
        self._new[id] = None
        return id

    def only_named(self) -> tuple[str, ...]:
        """The new sites for which no entry says what and where they are."""
        return tuple(id for id in self._new if self._sites.get(id) is None)

    def _add_drawn(self, drawn: Sequence[tuple[Entry, Where]]) -> Added:
        """What a map of ours brings back: an entry that is there is not added again.

        A site that was redrawn on the map is amended. Anything else that was changed there is refused: a count that
        moved is a correction that a person makes.
        """
        total = Added()
        known = self._writer.known(one.id for one, _ in drawn)
        fresh = []
        for one, where in drawn:
            self._book.learn(one)
            old = self._ledger.get(one.id) if one.id in known else None
            if old is None:
                fresh.append((one, where))
            elif old.model_copy(update={"amends": None}).text() == one.text():
                total += Added(already=1)
            elif isinstance(one.body, Site) and one.site is not None:
                total += self._add_site(SiteDraft(one.site, body_plain(one.body), where))
            else:
                fresh.append((one, where))
        return total + self._writer.add([one for one, _ in fresh], where={one.id: where for one, where in fresh})

    def _add_site(self, draft: SiteDraft) -> Added:
        """A boundary: a new site, or an amendment of the site that is there."""
        site = self._site(draft.site, draft.where)
        id = row_id("site", site, canonical(dict(draft.fields)))
        if self._writer.known([id]):
            return Added(already=1)
        old = self._standing_site(site)
        fields = dict(draft.fields)
        if "boundary" in fields and not self._insist:
            self._ground.check_moved(site, fields["boundary"], draft.where)
        if old is None:
            body = {"name": fields.pop("name", draft.site), "ground": fields.pop("ground", "field"), **fields}
        else:
            body = {**body_plain(old.body), **fields}
            if Site.model_validate(body) == old.body:
                return Added(already=1)
        made = entry(
            "site",
            body,
            by=self._by,
            site=site,
            made_at=self._now,
            amends=old.id if old else None,
            id=id,
            where=draft.where,
        )
        self._sites[site] = made
        self._book.learn(made)
        self._ground.learn(site, made.body)  # type: ignore[arg-type]
        return self._writer.add([made], where={id: draft.where})

    def _site_of_mark(self, stem: str, name: str, where: Where) -> str:
        """The site of a line or point: the one it is named for, unless only the file is named for one."""
        known = [text for text in (name, stem) if self._knows(text)]
        return self._site(known[0] if known else name, where)

    def _knows(self, name: str) -> bool:
        try:
            self._book.find(name, where="site")
        except Refused:
            return False
        return True

    def _standing_site(self, site: str) -> Entry | None:
        if site not in self._sites:
            found = self._ledger.standing(site).of("site")
            self._sites[site] = found[-1] if found else None
        return self._sites[site]

    def _add_photo(self, photo: PhotoFile) -> Added:
        body: dict[str, Any] = {"sha256": photo.sha256, "media_type": photo.media_type, "size_bytes": photo.size_bytes}
        taken = photo.taken_by(self._defaults.today)
        if taken is not None:
            body["taken_at"] = taken
        elif self._defaults.on is not None:
            body["on"] = self._defaults.on
        if photo.at is not None:
            body["at"] = list(photo.at)
        return self._add_original("photo", photo, body)

    def _add_sound(self, sound: SoundFile) -> Added:
        body: dict[str, Any] = {"sha256": sound.sha256, "media_type": sound.media_type, "size_bytes": sound.size_bytes}
        if self._defaults.on is not None:
            body["on"] = self._defaults.on
        return self._add_original("sound", sound, body)

    def _add_original(self, kind: str, original: PhotoFile | SoundFile, body: dict[str, Any]) -> Added:
        where = Where(original.path.name)
        try:
            site = None if self._defaults.site is None else self._site(self._defaults.site, where)
        except Refused as problem:
            self.refused.append(problem)
            return Added()
        id = row_id(kind, site, original.sha256)
        if site is None and not self._writer.known([id]):
            self.noticed.append(
                f"{original.path.name} is of no site, so that no reading shows it. Take it again with --site NAME."
            )
        made = entry(kind, body, by=self._by, site=site, made_at=self._now, id=id, where=where)
        return self._new_only([(made, where)])

    def _new_only(self, pairs: Sequence[tuple[Entry, Where]]) -> Added:
        # An id made from a row says that the row is known, whoever took it and when.
        known = self._writer.known(one.id for one, _ in pairs)
        fresh = [(one, where) for one, where in pairs if one.id not in known]
        added = self._writer.add([one for one, _ in fresh], where={one.id: where for one, where in fresh})
        return added + Added(already=len(pairs) - len(fresh))
