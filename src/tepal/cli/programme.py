"""`tepal programme PLAN`: a season's herbicide passes, checked against what the plants resist and what weather does."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import Parameter

from tepal.cli import _out
from tepal.cli._state import named_state
from tepal.tables import Refused, meant

if TYPE_CHECKING:
    from tepal.flora import Flora
    from tepal.programme import Programme

_LAST_GROUP = 34
_SHORTEST = 3


def programme(
    plan: Annotated[Path | None, Parameter(help="The plan: a programme's file (TOML).")] = None,
    /,
    *,
    ledger: Annotated[str | None, Parameter(help="The ledger: a file, or postgresql://…")] = None,
    site: Annotated[str | None, Parameter(help="The field, by id or name (with --ledger).")] = None,
    as_of: Annotated[
        str | None, Parameter(help="The day to read the field on (YYYY-MM-DD); today if not given.")
    ] = None,
    year: Annotated[
        int | None, Parameter(help="Year of the plan's first season; that of --as-of if not given.")
    ] = None,
    traits: Annotated[
        str | None,
        Parameter(help="Herbicide traits of the seed, with commas; `none` for seed without any."),
    ] = None,
    state: Annotated[str | None, Parameter(help="Its two letters or its name, where no site is given.")] = None,
    region: Annotated[
        Literal["SE", "CB", "UM", "SP", "NE"] | None, Parameter(help="Region, where no site is given.")
    ] = None,
    units: Annotated[Literal["us", "metric"], Parameter(help="Units of the sentences.")] = "us",
    json: Annotated[bool, Parameter(help="Print one JSON object.", negative="")] = False,
) -> int:
    """Check a season's passes: sites of action that count, residuals, rain, heights on the day, traits.

    With --ledger and --site the field's laboratory results, failed sprayings, seed traits and weather are taken into
    account, and this season's sprayings are checked too; then the plan may be left out.
    """
    from datetime import date

    from tepal import advice as advising
    from tepal.flora import load
    from tepal.programme import read_programme
    from tepal.tables import parse_date
    from tepal.words import Words

    if (ledger is None) != (site is None):
        raise Refused(
            "--ledger without --site" if site is None else "--site without --ledger",
            where="command line",
            rule="A field is a site of a ledger.",
            step="Give both, or neither.",
        )
    if year is not None and not 1990 <= year <= 2100:
        raise Refused(f"--year {year}", where="command line", rule="A year lies between 1990 and 2100.",
                      step="Correct it.")  # fmt: skip
    state_named = named_state(state)
    day = date.today() if as_of is None else parse_date(as_of, "--as-of")
    flora = load()
    read = read_programme(plan) if plan is not None else None
    _check_groups(read, flora)
    seed = None if traits is None else _traits(traits, flora)
    found = None
    if ledger is not None and site is not None:
        from tepal import reading as readings
        from tepal.ledger import Ledger

        with Ledger.open(ledger) as book:
            found = readings.read(book, site, as_of=day, flora=flora)
    check = advising.check_programme(
        read,
        flora=flora,
        reading=found,
        year=year or day.year,
        traits=seed,
        state=state_named,
        region=region,
    )
    words = Words(units=units)
    if json:
        _out.emit(advising.plan_to_json(check, words, flora=flora))
        return _out.DONE
    for line in advising.plan_in_words(check, words, flora=flora):
        _out.say(line)
    return _out.DONE


def _check_groups(plan: Programme | None, flora: Flora) -> None:
    for group in () if plan is None else plan.groups:
        if int(group) > _LAST_GROUP:
            known = sorted({one for item in flora.ingredients.values() for one in item.groups})
            raise Refused(
                f"site of action {group}",
                where=plan.name if plan else "plan",
                rule=f"The groups of WSSA and HRAC run to {_LAST_GROUP}; known here are {', '.join(map(str, known))}.",
                step="Correct the group in the plan.",
            )


def _traits(text: str, flora: Flora) -> tuple[str, ...]:
    # The comma of 2,4-D parts no list.
    parts = (part.strip() for part in re.split(r",(?!4-D)", text, flags=re.IGNORECASE))
    named = tuple(part for part in parts if part)
    if named == ("none",):
        return ()
    known = [item.name for item in flora.ingredients.values() if "trait" in item.crops.values()]
    for one in named:
        if len(one) < _SHORTEST or not any(name.casefold().startswith(one.casefold()) for name in known):
            raise Refused(
                f"trait {one!r}",
                where="--traits",
                rule=f"A trait is named by what the seed stands: {', '.join(known)}; or none.",
                step=meant(one, known, "Give one of them, or leave --traits out where it is not known."),
            )
    return named
