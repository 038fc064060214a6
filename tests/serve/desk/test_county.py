"""The county's list from made-up sites: every one stands once, under its day, in order; the map says the same."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any
from xml.etree import ElementTree

from hypothesis import given, settings
from hypothesis import strategies as st

from tepal.ledger import Entry, entry
from tepal.serve.desk._cache import Brief, Key
from tepal.serve.desk._calls import Call, calls_of
from tepal.serve.desk._county import CountyView, county_view
from tepal.serve.desk._county_map import SEEN, Mark, county_map
from tepal.serve.desk._links import Links
from tepal.serve.desk._readings import Shown
from tepal.words import Words

TODAY = date(2026, 6, 18)
MADE = datetime(2026, 6, 18, 12, tzinfo=UTC)
KEY = Key(1, "t", "s", "v")


def shown(n: int, by: int | None, closes: int | None, seen: str, total: float | None) -> Shown:
    """A site whose first thing is to be done `by` days from today, and whose next window closes after `closes`."""
    task = {"text": f"Do {n % 3}.", "by": _day(by), "cautions": []}
    said = {
        "sentence": "Waterhemp, almost certainly. More.",
        "many": None,
        "closes": "It closes.",
        "do": [] if by is None else [task],
        "first": None,
        "blocked": None,
        "refused": False,
    }
    days = [day for day in (by, closes) if day is not None]
    told: dict[str, Any] = {
        "site": f"s/{n}",
        "name": f"Field <{n}> & more",
        "county": "Larkmoor",
        "centre": [-96.0 + 0.01 * n, 41.5 - 0.02 * (n % 7)],
        "seen": seen,
        "total": total,
        "by": _day(min(days, default=None)),
        "closes_on": _day(closes),
        "words": {"en-us": said},
    }
    return Shown(f"s/{n}", Brief(f"s/{n}", TODAY, KEY, MADE, told), holds=True)


def _day(days: int | None) -> str | None:
    return None if days is None else (TODAY + timedelta(days=days)).isoformat()


SITES = st.lists(
    st.tuples(
        st.none() | st.integers(-10, 60),
        st.none() | st.integers(0, 90),
        st.sampled_from(SEEN),
        st.none() | st.floats(0, 1e6),
    ),
    max_size=40,
)


def view(sites: list[Shown], calls: list[Call]) -> CountyView:
    return county_view(sites, calls, as_of=TODAY, words=Words(), links=Links())


@given(SITES, st.lists(st.none() | st.integers(-20, 30), max_size=6))
@settings(max_examples=60, deadline=None)
def test_every_site_stands_once_under_its_day_and_numbers_run_on(
    rows: list[tuple[int | None, int | None, str, float | None]], promised: list[int | None]
) -> None:
    sites = [shown(n, *row) for n, row in enumerate(rows)]
    reports = [_report(f"call-{n}", days) for n, days in enumerate(promised)]
    found = view(sites, list(calls_of(tuple(reports))))
    lines = [line for day in found.days for line in (*day.lines, *day.more)]
    assert [line.number for line in lines] == list(range(1, len(lines) + 1))
    hrefs = [href for line in lines for href in ([one[0] for one in line.sites] or [line.href])]
    assert len(hrefs) == len(set(hrefs))
    links = Links()
    dated = {one.site for one in sites if one.told["by"] is not None}
    assert {links.site(site) for site in dated} | {links.call(one.id) for one in reports} == set(hrefs)
    assert {line.href for line in found.quiet} == {links.site(one.site) for one in sites if one.site not in dated}
    # A site whose day is gone stands under today, and says so.
    by = {links.site(one.site): one.told["by"] for one in sites if one.told["by"] is not None}
    for day in found.days:
        for line in (*day.lines, *day.more):
            if line.href in by and len(line.sites) < 2:
                assert line.late == (by[line.href] < TODAY.isoformat())
                assert day.label == "Today" or by[line.href] > TODAY.isoformat()
    soon = [day.soon for day in found.days]
    assert soon == sorted(soon, reverse=True)


def test_days_come_in_order_and_calls_before_sites_before_places_nobody_looked_at() -> None:
    sites = [
        shown(1, 0, None, "nobody", None),
        shown(2, 0, None, "maybe", 10.0),
        shown(3, 0, None, "hunted", 5.0),
        shown(4, 0, None, "hunted", 500.0),
        shown(5, -3, None, "other", None),
        shown(6, 1, None, "hunted", 1.0),
        shown(7, 8, 2, "hunted", 1.0),
        shown(8, 40, None, "hunted", 1.0),
        shown(9, None, None, "none", None),
    ]
    found = view(sites, list(calls_of((_report("call-a", 0), _report("call-b", None)))))
    assert [day.label for day in found.days] == ["Today", "By tomorrow", "By Saturday, June 20", "Later"]
    today = [line.name for line in found.days[0].lines]
    assert today[:2] == ["call-a", "call-b"]
    assert [name.partition("<")[2].partition(">")[0] for name in today[2:]] == ["4", "3", "2", "5", "1"]
    assert found.days[2].soon
    assert not found.days[3].soon
    assert found.sentence == "9 things want doing within seven days. First: call-a. Answer the call."


def test_places_that_nobody_looked_at_stand_together() -> None:
    sites = [shown(n, 0, None, "nobody", None) for n in range(0, 30, 3)]
    found = view(sites, [])
    (line,) = found.days[0].lines
    assert (line.name, line.text, len(line.sites)) == ("10 places", "Do 0.", 10)
    assert found.sentence.startswith("10 things want doing")


def _report(site: str, promised: int | None) -> Entry:
    body = {"how": "call", "words": "Come and see", "answer_by": _day(promised)}
    body = {key: value for key, value in body.items() if value is not None}
    return entry("report", body, by="x", site=site, made_at="2026-06-17T08:00:00-05:00")


@given(
    st.lists(
        st.tuples(
            st.floats(-97, -95),
            st.floats(40, 42),
            st.sampled_from(SEEN),
            st.text(max_size=30),
            st.none() | st.integers(1, 99),
        ),
        min_size=1,
        max_size=60,
    )
)
@settings(max_examples=40, deadline=None)
def test_the_map_is_well_formed_holds_every_mark_and_keeps_all_inside(
    rows: list[tuple[float, float, str, str, int | None]],
) -> None:
    drawn = str(county_map([Mark(lon, lat, seen, name, n) for lon, lat, seen, name, n in rows], Words()))
    readable = "".join(c for c in drawn if c in "\t\n\r" or ord(c) >= 0x20)
    root = ElementTree.fromstring(f"<div>{readable}</div>")
    svg = next(iter(root))
    name = svg.tag.partition("}")[0] + "}"
    _, _, wide, high = (float(v) for v in svg.attrib["viewBox"].split())
    marks = svg.findall(f"{name}g")
    assert len(marks) == len(rows)
    for mark in marks:
        x, y = (float(v) for v in mark.attrib["transform"].removeprefix("translate(").rstrip(")").split())
        assert 0 <= x <= wide
        assert 0 <= y <= high
    assert len(root.findall("ul/li")) == len({seen for _, _, seen, _, _ in rows})
