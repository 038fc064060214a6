"""Corrections by a person, and the history that shows them."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given

from ledger.strategies import logs
from tepal.ledger import Entry, Ledger, amend, entry, event_date, history, site_log, standing, withdraw
from tepal.tables import Refused


@given(logs())
def test_history_leaves_nothing_out_and_agrees_with_what_stands(log: list[Entry]) -> None:
    numbered = [one.model_copy(update={"seq": n}) for n, one in enumerate(log, start=1)]
    told = history(numbered)
    assert [one.entry.id for one in told] == [one.id for one in numbered]
    stands = standing(numbered)
    assert {one.entry.id for one in told if one.counts} == {one.id for one in stands.entries}
    for dispute in stands.disputes:
        ids = {claim.id for claim in dispute.claims}
        shown = {one.entry.id: set(one.rivals) | {one.entry.id} for one in told if one.rivals}
        assert all(shown[id] == ids for id in ids)
    for one in told:
        if one.counts:
            assert one.status == "stands"
        if one.status == "stands" and one.entry.kind != "withdraw":
            assert one.counts or one.rivals


def _told(ledger: Ledger) -> dict[str, str]:
    return {one.entry.id: one.status for one in history(site_log(ledger, "west"))}


@pytest.fixture
def stop(ledger: Ledger) -> Entry:
    body = {"counts": [{"taxon": "pigweed", "count": 3}], "area_m2": 4.0}
    made = entry("stop", body, by="scout", site="west", made_at="2026-06-14T12:00:00Z")
    ledger.add([made])
    return made


def test_a_second_correction_keeps_the_first(ledger: Ledger, stop: Entry) -> None:
    first = amend(ledger, stop.id, by="office", fields=["counts.0.count=5"])
    second = amend(ledger, stop.id, by="office", fields=["area_m2=8.0", "words=counted again"])
    assert second.corrects.id == first.made.id
    (counts,) = ledger.standing("west").of("stop")
    assert counts.body.counts[0].count == 5  # type: ignore[attr-defined]
    assert counts.body.area_m2 == 8  # type: ignore[attr-defined]
    assert set(_told(ledger).values()) == {"amended", "stands"}
    # What was seen on June 14 is not moved to the day of the correction.
    assert event_date(counts) == date(2026, 6, 14)
    assert first.changed == ("counts",)


def test_a_second_opinion_stands_beside_and_both_are_shown(ledger: Ledger, stop: Entry) -> None:
    first = amend(ledger, stop.id, by="office", fields=["counts.0.count=5"])
    second = amend(ledger, stop.id, by="scout", fields=["counts.0.count=7"], beside=True)
    rivals = {one.entry.id: one.rivals for one in history(site_log(ledger, "west")) if one.rivals}
    assert rivals == {first.made.id: (second.made.id,), second.made.id: (first.made.id,)}
    with pytest.raises(Refused, match="side by side"):
        amend(ledger, stop.id, by="office", fields=["area_m2=8.0"])


def test_a_withdrawal_and_its_withdrawal_are_both_in_the_history(ledger: Ledger, stop: Entry) -> None:
    taken = withdraw(ledger, stop.id, by="office", reason="wrong field")
    assert not ledger.standing("west").entries
    with pytest.raises(Refused, match="withdrawn already"):
        withdraw(ledger, stop.id, by="office")
    with pytest.raises(Refused, match="is withdrawn"):
        amend(ledger, stop.id, by="office", fields=["area_m2=8.0"])
    back = withdraw(ledger, taken.made.id, by="office")
    assert back.restores
    assert [one.id for one in ledger.standing("west").entries] == [stop.id]
    assert len(_told(ledger)) == 3


@pytest.mark.parametrize(
    ("fields", "named"),
    [
        (["counts.0.count=-1"], "count"),
        (["nosuch=1"], "nosuch"),
        (["counts.7.count=1"], "counts.7"),
        (["counts"], "KEY=VALUE"),
        (["area_m2=4.0"], "nothing is changed"),
        (["counts="], "counts"),
    ],
)
def test_a_correction_that_breaks_a_rule_is_refused_and_nothing_is_written(
    ledger: Ledger, stop: Entry, fields: list[str], named: str
) -> None:
    with pytest.raises(Refused, match=named):
        amend(ledger, stop.id, by="office", fields=fields)
    assert ledger.last_seq == 1


def test_a_movement_entered_elsewhere_is_told_at_both_ends(ledger: Ledger) -> None:
    move = entry("move", {"what": "hay", "from_site": "west", "to_site": "east"}, by="office", site="west")
    gone = entry("withdraw", {}, by="office", site="west", amends=move.id)
    ledger.add([move, gone])
    for site in ("west", "east"):
        assert [one.id for one in site_log(ledger, site)] == [move.id, gone.id]
