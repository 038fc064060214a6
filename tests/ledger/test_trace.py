"""Movements traced, against a slow twin that walks every path."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from tepal.ledger import Hop, Ledger, entry, follow, trace

DAY = date(2026, 6, 1)


def every_path(hops: Sequence[Hop], site: str) -> list[tuple[Hop, ...]]:
    """The slow twin: all paths from `site` that use no movement twice and never go back in time."""
    found: list[tuple[Hop, ...]] = []

    def walk(place: str, path: tuple[Hop, ...]) -> None:
        for hop in hops:
            if hop.start == place and hop not in path and (not path or hop.on >= path[-1].on):
                found.append((*path, hop))
                walk(hop.end, (*path, hop))

    walk(site, ())
    return found


def turned(hop: Hop) -> Hop:
    return Hop(hop.entry, hop.what, DAY + (DAY - hop.on), hop.end, hop.start)


hop_lists = st.lists(
    st.tuples(st.sampled_from("abcde"), st.sampled_from("abcde"), st.integers(0, 6)).filter(lambda h: h[0] != h[1]),
    max_size=7,
).map(lambda rows: [Hop(f"{n}", "hay", DAY + timedelta(days=day), a, b) for n, (a, b, day) in enumerate(rows)])


@settings(max_examples=300, deadline=None)
@given(hop_lists)
def test_a_trace_finds_what_walking_every_path_finds(hops: list[Hop]) -> None:
    paths = every_path(hops, "a")
    found = follow(hops, "a")
    assert set(found.hops) == {path[-1] for path in paths}
    first = {place: min(p[-1].on for p in paths if p[-1].end == place) for place in {p[-1].end for p in paths} - {"a"}}
    assert {one.place: one.on for one in found.reached} == first
    for one in found.reached:
        assert one.path in paths


@settings(max_examples=300, deadline=None)
@given(hop_lists)
def test_back_is_forward_with_time_turned_round(hops: list[Hop]) -> None:
    back = follow(hops, "a", back=True)
    forward = follow([turned(hop) for hop in hops], "a")
    assert {hop.entry for hop in back.hops} == {hop.entry for hop in forward.hops}
    assert {one.place: DAY + (DAY - one.on) for one in back.reached} == {one.place: one.on for one in forward.reached}
    for one in back.reached:
        days = [hop.on for hop in one.path]
        assert days == sorted(days)
        assert one.path[0].start == one.place and one.path[-1].end == "a"


def _ledger(ledger: Ledger, *moves: tuple[str, str | None, str | None, int, str]) -> None:
    made = [
        entry("site", {"name": f"{name} Field", "ground": "field"}, by="office", site=name)
        for name in ("west", "east", "north")
    ]
    for what, start, end, day, tag in moves:
        body = {"what": what, "on": (DAY + timedelta(days=day)).isoformat(), "tag": tag}
        body |= {key: value for key, value in (("from_site", start), ("to_site", end)) if value}
        made.append(entry("move", body, by="office", site=start or end, made_at="2026-08-01T12:00:00Z"))
    added = ledger.add(made)
    assert not added.refused


def test_hay_that_left_before_there_was_seed_is_no_path(ledger: Ledger) -> None:
    _ledger(ledger, ("hay", "west", "East Field", 5, "L1"), ("manure", "east", "north", 3, "M"))
    found = trace(ledger, "West Field")
    # The manure left two days before the hay came.
    assert [one.place for one in found.reached] == ["east"]
    assert trace(ledger, "west", first=DAY + timedelta(days=6)).hops == ()
    assert [one.place for one in trace(ledger, "east", back=True).reached] == ["west"]
    assert trace(ledger, "east", back=True, last=DAY + timedelta(days=4)).hops == ()


def test_a_machine_comes_from_where_it_was_last(ledger: Ledger) -> None:
    _ledger(ledger, ("combine", None, "west", 1, "C7"), ("combine", None, "north", 4, "C7"))
    (hop,) = trace(ledger, "west").hops
    assert (hop.start, hop.end, hop.start_reckoned) == ("west", "north", True)
    assert trace(ledger, "north").hops == ()


def test_hay_of_unknown_origin_is_not_taken_for_a_machine(ledger: Ledger) -> None:
    _ledger(ledger, ("hay", None, "west", 1, "L7"), ("hay", None, "north", 4, "L7"))
    assert trace(ledger, "west").hops == ()


def test_a_withdrawn_movement_carries_nothing(ledger: Ledger) -> None:
    _ledger(ledger, ("hay", "west", "east", 5, "L1"))
    move = ledger.entries(kinds=("move",))[0]
    ledger.add([entry("withdraw", {}, by="office", site="west", amends=move.id)])
    assert trace(ledger, "west").hops == ()
