"""The rows of the record taken together: no place of the log is empty, and what points at something finds it."""

from __future__ import annotations

from itertools import pairwise

from tepal.ledger.keeping._findings import Seen
from tepal.words import Words


def look_at_places(seen: Seen, words: Words) -> None:
    """Entries and weather share one count that has no gap: it is given under a lock, and nothing is ever dropped."""
    places = sorted(seen.places)
    step = words.t("Nothing in Tepal drops rows. Restore the newest backup under another name and compare.")
    for before, after in pairwise([0, *places]):
        if after == before:
            what = words.t("Place {n} of the log is taken twice.", n=after)
            seen.found("place_twice", str(after), what, step)
        elif after > before + 1:
            first, last = before + 1, after - 1
            what = (
                words.t("Place {n} of the log is empty: what stood there is gone.", n=first)
                if first == last
                else words.t("Places {n} to {m} of the log are empty: what stood there is gone.", n=first, m=last)
            )
            seen.found("place_empty", str(first) if first == last else f"{first}-{last}", what, step)


def look_at_amendments(seen: Seen, words: Words) -> None:
    """What an entry amends came before it, is of its site, and is of its kind unless it is withdrawn."""
    step = words.t("It counts for nothing. Restore the newest backup under another name and compare.")
    for id, target in seen.amending:
        seq, site, kind = seen.entries[id]
        other = seen.entries.get(target)
        if other is None:
            what = words.t("Entry {id} amends {other}, which is not in the record.", id=id, other=target)
        elif other[0] >= seq:
            what = words.t("Entry {id} amends {other}, which came later.", id=id, other=target)
        elif other[1] != site:
            what = words.t("Entry {id} amends {other}, which is of another site.", id=id, other=target)
        elif kind not in {other[2], "withdraw", "forgotten"} and other[2] != "forgotten":
            what = words.t("Entry {id} amends {other}, which is of another kind.", id=id, other=target)
        else:
            continue
        seen.found("amends_nothing", id, what, step)


def look_at_points(seen: Seen, words: Words) -> None:
    """A stop belongs to its walk, a plant to its stop, a photo and a sample to what they are of."""
    for id, name, target in seen.points:
        if target not in seen.entries:
            what = words.t(
                "Entry {id} names in {field} the entry {other}, which is not in the record.",
                id=id,
                field=name,
                other=target,
            )
            step = words.t("Let the phone that made it send what it still holds; else amend the entry.")
            seen.found("points_nowhere", id, what, step)
