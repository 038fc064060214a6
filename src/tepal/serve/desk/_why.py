"""On what one figure of a reading stands: entries in words, sources in full, the weakest of what they are."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from tepal.doubt import Provenance
from tepal.flora import BASIS_WORDS, Flora
from tepal.ledger import Entry, Told
from tepal.reading import why as stands_on
from tepal.serve import Who
from tepal.serve.desk._links import Links
from tepal.serve.desk._past import Past, lines_of, may_read
from tepal.serve.desk._site import stands
from tepal.serve.desk._told import wording
from tepal.words import Words


@dataclass(frozen=True, slots=True)
class WhyView:
    """What one figure stands on: entries in words, sources in full, the weakest of what they are."""

    name: str
    back: str
    figure: str
    entries: tuple[Past, ...] = ()
    hidden: int = 0
    sources: tuple[str, ...] = ()
    basis: str = ""
    stands: str = ""
    figures: tuple[tuple[str, str], ...] = field(default_factory=tuple)


def why_view(
    site: str,
    page: dict[str, Any],
    pointer: str,
    entries: Sequence[Entry],
    *,
    mine: Collection[str],
    who: Who,
    flora: Flora,
    words: Words,
    links: Links,
) -> WhyView:
    """On what the figure at `pointer` stands. `entries`: all of the site's; `mine`: those that who asks handed in.

    Raises
    ------
    Refused
        If the pointer leads nowhere.
    """
    found = behind(page, pointer)
    by_id = {entry.id: entry for entry in entries}
    named = [by_id[id] for id in found.entries if id in by_id]
    readable = [entry for entry in named if may_read(entry, who)]
    log = [Told(entry, None, "stands", True) for entry in readable]
    lines = lines_of(log, page, mine=mine, who=who, words=words, links=links)
    cited = [flora.sources[key].citation if key in flora.sources else key for key in found.sources]
    return WhyView(
        name=page["document"]["name"],
        back=links.site(site),
        figure=_figure(pointer, page, words),
        entries=tuple(lines),
        hidden=len(found.entries) - len(readable),
        sources=tuple(sorted(dict.fromkeys(cited), key=str.casefold)),
        basis="" if found.basis is None else words.t(BASIS_WORDS[found.basis]),
        stands=stands(page["document"], words),
        figures=_numbers(pointer, page, words),
    )


def behind(page: dict[str, Any], pointer: str) -> Provenance:
    """What is known to stand behind a figure of a kept reading."""
    known = {
        key: Provenance(tuple(row["sources"]), row["basis"], tuple(row["entries"])) for key, row in page["why"].items()
    }
    return stands_on(pointer, known, page["document"])


def _figure(pointer: str, page: dict[str, Any], words: Words) -> str:
    """The sentence that was pointed at."""
    said = page["words"][wording(words)]
    whole = {"/taxa": said["who"], "/stand": said["many"]}
    if whole.get(pointer):
        return str(whole[pointer])
    rows = [
        row
        for part in ("do", "do_nots", "later", "programme", "cautions", "costs", "windows", "done")
        for row in said[part]
    ]
    return next((str(row["text"]) for row in rows if row["why"] == pointer), page["document"]["name"])


def _numbers(pointer: str, page: dict[str, Any], words: Words) -> tuple[tuple[str, str], ...]:
    """The figures themselves, where a sentence rounded them."""
    document = page["document"]
    if pointer == "/taxa":
        names = page["names"][wording(words)]
        rows = sorted(document["taxa"].values(), key=lambda taxon: -taxon["p_seen"])
        return tuple(
            (names.get(taxon["code"], taxon["code"]), words.chance(taxon["p_seen"]))
            for taxon in rows
            if taxon["code"] in names
        )
    if pointer == "/stand":
        return tuple(_stand_rows(document["stand"], words))
    step = pointer.split("/")
    if len(step) == 3 and step[1] == "windows":
        window = document["windows"][int(step[2])]
        heads = (
            ("q10", words.t("1 chance in 10 by")),
            ("q50", words.t("even chances by")),
            ("q90", words.t("9 chances in 10 by")),
        )
        return tuple(
            (head, words.day(date.fromisoformat(window[key])) if window[key] else words.t("not this season"))
            for key, head in heads
        )
    return ()


def _stand_rows(stand: dict[str, Any], words: Words) -> list[tuple[str, str]]:
    rows = []
    for key, head in (
        ("total", words.t("plants of the kind we hunt")),
        ("all_total", words.t("pigweeds of all kinds")),
    ):
        total = stand[key]
        if total is not None:
            text = words.t(
                "{middle}; 9 chances in 10 that it is {range}",
                middle=words.about(total["q50"]),
                range=words.between(total["q05"], total["q95"]),
            )
            rows.append((f"{head[:1].upper()}{head[1:]}", text))
    if stand["stops"]:
        rows.append((words.t("Counting stops"), words.number(stand["stops"])))
        rows.append((words.t("Plants counted there"), words.number(stand["counted_plants"])))
    if stand["walks"]:
        rows.append((words.t("Walks"), words.number(stand["walks"])))
    if stand["seen_share"] is not None:
        rows.append(
            (
                words.t("Of plants standing there, shown by the walk"),
                words.t("about {n} in 100", n=round(100 * stand["seen_share"])),
            )
        )
    return rows
