"""One site: the sentence that answers, what to do, the map, when what closes, and what stands behind it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from tepal.ledger import Entry, Told, ground_said, roles_said
from tepal.serve import Who
from tepal.serve._permission import Permission, unasked
from tepal.serve.desk._contacts import Contact, contacts
from tepal.serve.desk._links import Links
from tepal.serve.desk._past import Past, lines_of, may_read
from tepal.serve.desk._readings import Shown
from tepal.serve.desk._render import drawing
from tepal.serve.desk._told import wording
from tepal.tables import Refused
from tepal.words import Words

READERS = ("tenant", "owner", "applicator", "harvester")
_LATEST = 12


@dataclass(frozen=True, slots=True)
class Sentence:
    """A sentence and where it is told on what it stands."""

    text: str
    why: str


@dataclass(frozen=True, slots=True)
class Task:
    """Something to do: `when` may be empty."""

    when: str
    text: str
    reason: str
    fails: str
    cautions: tuple[str, ...]
    why: str
    late: bool


@dataclass(frozen=True, slots=True)
class Paper:
    """A letter for one reader, in its forms: words and addresses."""

    reader: str
    forms: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class SiteView:
    """The page of a site. `read`: whether there is a reading; where there is none, only what needs none is filled."""

    site: str
    name: str
    where: str
    read: bool
    holds: bool
    refused: str
    age: str
    who: Sentence | None = None
    many: Sentence | None = None
    frost: str = ""
    blocked: str = ""
    first: Task | None = None
    tasks: tuple[Task, ...] = ()
    dont: tuple[Task, ...] = ()
    later: tuple[Task, ...] = ()
    programme: tuple[Task, ...] = ()
    cautions: tuple[tuple[str, str], ...] = ()
    costs: tuple[Sentence, ...] = ()
    windows: tuple[Sentence, ...] = ()
    done: tuple[Sentence, ...] = ()
    unknowns: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    map: Any = None
    stands: str = ""
    calls: tuple[tuple[str, str], ...] = ()
    history: tuple[Past, ...] = ()
    older: tuple[Past, ...] = ()
    permission: str = ""
    people: tuple[Contact, ...] = ()
    roles: tuple[tuple[str, str], ...] = ()  # what somebody may be to the site, for who may write that down
    people_at: str = ""
    today: str = ""
    papers: tuple[Paper, ...] = ()
    crew: Paper | None = None
    aerial: str = ""
    aerial_there: bool = False


@dataclass(frozen=True, slots=True)
class Beside:
    """What the record says of a site beside its reading. `mine`: ids of entries that who asks handed in."""

    name: str
    told: Sequence[Told] = ()
    mine: Collection[str] = ()
    permission: Permission | None = None
    parties: Sequence[Entry] = ()
    calls: Sequence[tuple[str, str]] = ()
    has_aerial: bool = False


def site_view(
    shown: Shown, page: dict[str, Any] | None, beside: Beside, *, who: Who, words: Words, links: Links, now: datetime
) -> SiteView:
    """The page as `who` may see it; `page`: the whole reading, None where there is none yet."""
    site = shown.site
    readable = [told for told in reversed(beside.told) if may_read(told.entry, who)]
    past = lines_of(readable, page, mine=beside.mine, who=who, words=words, links=links)
    view = SiteView(
        site=site,
        name=beside.name,
        where="",
        read=False,
        holds=shown.holds,
        refused="" if shown.refused is None else _sentences(shown.refused),
        age=_age(shown, words, now),
        calls=tuple(beside.calls),
        history=tuple(past[:_LATEST]),
        older=tuple(past[_LATEST:]),
        permission=unasked(words) if beside.permission is None else beside.permission.text(words),
        people=contacts(beside.parties, who, words),
        people_at=links.people(site),
        today=now.date().isoformat(),
        roles=tuple(roles_said(words).items()) if who.sees_all else (),
        aerial=links.aerial(site) if who.sees_all else "",
        aerial_there=beside.has_aerial,
    )
    if page is None:
        return view
    said = page["words"][wording(words)]

    def sentence(text: str | None, pointer: str) -> Sentence | None:
        return Sentence(text, links.why(site, pointer)) if text else None

    def sentences(rows: Sequence[dict[str, Any]]) -> tuple[Sentence, ...]:
        return tuple(Sentence(row["text"], links.why(site, row["why"])) for row in rows)

    def tasks(part: str) -> tuple[Task, ...]:
        return tuple(_task(row, site, links) for row in said[part])

    do = tasks("do")
    document = page["document"]
    return replace(
        view,
        name=document["name"],
        where=_where(document["place"], words),
        read=True,
        who=sentence(said["who"], "/taxa"),
        many=sentence(said["many"], "/stand"),
        frost=said["frost"] or "",
        blocked=said["blocked"] or "",
        first=do[0] if do else None,
        tasks=do[1:],
        dont=tasks("do_nots"),
        later=tasks("later"),
        programme=tasks("programme"),
        cautions=_cautions(said["cautions"], words),
        costs=sentences(said["costs"]),
        windows=sentences(said["windows"]),
        done=sentences(said["done"]),
        unknowns=tuple(said["unknowns"]),
        warnings=tuple(said["warnings"]),
        map=None if said["map"] is None else drawing(said["map"]["svg"], said["map"]["alt"]),
        stands=stands(document, words),
        papers=tuple(_paper(reader, site, words, links) for reader in READERS),
        crew=_paper("crew", site, words, links) if document["facts"].get("p_hunted") else None,
    )


def _sentences(refused: Refused) -> str:
    return f"{refused.what[:1].upper()}{refused.what[1:]}. {refused.step}"


def _task(row: dict[str, Any], site: str, links: Links) -> Task:
    when = row["when"]
    return Task(
        when=f"{when[:1].upper()}{when[1:]}" if when else "",
        text=row["text"],
        reason=row["reason"],
        fails=row["fails"],
        cautions=tuple(row["cautions"]),
        why=links.why(site, row["why"]),
        late=row["late"],
    )


def _cautions(rows: Sequence[dict[str, Any]], words: Words) -> tuple[tuple[str, str], ...]:
    heads = {
        "people": words.t("People"),
        "spraying": words.t("Spraying"),
        "machines": words.t("Machines"),
        "place": words.t("The place"),
        "animals": words.t("Animals"),
        "law": words.t("The law"),
        "money": words.t("Money and contracts"),
    }
    told = ((head, [row["text"] for row in rows if row["about"] == about]) for about, head in heads.items())
    return tuple((head, " ".join(texts)) for head, texts in told if texts)


def _where(place: dict[str, Any], words: Words) -> str:
    county = place["county"] and words.t("{county} County", county=place["county"])
    area = None if place["hectares"] is None else words.area(1e4 * place["hectares"])
    ground = ground_said(place["ground"], words)
    crop = place["crop"] and words.t(place["crop"])
    return ", ".join(str(part) for part in (county, place["state"], place["legal"], area, ground, crop) if part)


def _age(shown: Shown, words: Words, now: datetime) -> str:
    """How old the reading is, and whether another is on its way."""
    if shown.brief is None:
        return "" if shown.refused else words.t("This site is being reckoned for the first time.")
    if shown.holds:
        return ""
    minutes = max(0, round((now - shown.brief.made_at).total_seconds() / 60))
    if minutes < 1:
        ago = words.t("less than a minute ago")
    elif minutes < 120:
        ago = words.plural("{count} minute ago", "{count} minutes ago", minutes)
    elif minutes < 2 * 24 * 60:
        ago = words.plural("{count} hour ago", "{count} hours ago", round(minutes / 60))
    else:
        ago = words.plural("{count} day ago", "{count} days ago", round(minutes / 1440))
    return words.t("Made {ago}. Something has come in since; it is being reckoned anew.", ago=ago)


def stands(document: dict[str, Any], words: Words) -> str:
    return words.t(
        "Reckoned for {day} from what had arrived up to place {place} in the ledger; tables {tables}, Tepal {version}.",
        day=words.day(date.fromisoformat(document["as_of"]), year=True),
        place=words.number(document["known_to"]),
        tables=document["tables"][:12],
        version=document["version"],
    )


def _paper(reader: str, site: str, words: Words, links: Links) -> Paper:
    names = {
        "tenant": words.t("Letter to whoever farms it"),
        "owner": words.t("Letter to the owner"),
        "applicator": words.t("Letter to the applicator"),
        "harvester": words.t("Letter to whoever harvests"),
        "crew": words.t("Card for a crew"),
    }
    forms = ((words.t("to print (PDF)"), "pdf"), (words.t("as a page"), "html"), (words.t("as a text"), "txt"))
    return Paper(names[reader], tuple((text, links.letter(site, form, reader)) for text, form in forms))
