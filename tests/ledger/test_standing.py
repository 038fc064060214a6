"""Which entries count: by hand on small cases, and against a slow plain twin on random logs."""

from __future__ import annotations

from datetime import date

from hypothesis import given
from hypothesis import strategies as st

from tepal.ledger import Entry, entry, standing


def log(*made: Entry) -> list[Entry]:
    return [one.model_copy(update={"seq": i}) for i, one in enumerate(made, start=1)]


def note(words: str, **more: object) -> Entry:
    return entry("note", {"words": words}, **{"by": "s", "site": "a", "made_at": "2026-06-14T10:00:00Z", **more})


def withdraw(target: Entry) -> Entry:
    return entry("withdraw", {}, by="s", site="a", made_at="2026-06-15T10:00:00Z", amends=target.id)


def words(*made: Entry, **more: object) -> list[str]:
    return [e.body.words or "" for e in standing(log(*made), **more).entries]  # type: ignore[arg-type]


def test_an_amended_entry_is_replaced_and_traced_to_its_root() -> None:
    one = note("ten")
    two = note("twelve", amends=one.id)
    three = note("thirteen", amends=two.id)
    found = standing(log(one, two, three))
    assert [e.body.words for e in found.entries] == ["thirteen"]
    assert found.root == {three.id: one.id}
    assert found.disputed == ()


def test_two_amendments_of_one_entry_are_a_dispute_and_the_last_counts() -> None:
    one = note("ten")
    two, three = note("twelve", amends=one.id), note("thirty", amends=one.id)
    found = standing(log(one, two, three))
    assert found.disputed == (one.id,)
    assert [claim.body.words for claim in found.disputes[0].claims] == ["twelve", "thirty"]
    assert [e.body.words for e in found.entries] == ["thirty"]
    settled = standing(log(one, two, three, withdraw(three)))
    assert settled.disputed == ()
    assert [e.body.words for e in settled.entries] == ["twelve"]


def test_a_withdrawal_takes_the_entry_with_its_amendments_and_can_itself_be_withdrawn() -> None:
    one, other = note("ten"), note("apart")
    two = note("twelve", amends=one.id)
    gone = withdraw(one)
    assert words(one, two, other, gone) == ["apart"]
    assert words(one, two, other, gone, withdraw(gone)) == ["twelve", "apart"]
    assert words(one, two, other, withdraw(two)) == ["ten", "apart"]
    assert standing(log(one, two, other, gone)).withdrawn == (one.id,)


def test_as_of_counts_what_had_happened_and_known_to_what_had_arrived() -> None:
    seen = {"words": "early", "on": "2026-06-01"}
    one = entry("note", seen, by="s", site="a", made_at="2026-06-14T10:00:00Z")
    late = note("late")
    # A correction made in July of what was seen in June counts for June as soon as it is known.
    mended = entry(
        "note",
        {"words": "early, corrected", "on": "2026-06-01"},
        by="s",
        site="a",
        made_at="2026-07-14T10:00:00Z",
        amends=one.id,
    )
    assert words(one, late, mended, as_of=date(2026, 6, 1)) == ["early, corrected"]
    assert words(one, late, mended, as_of=date(2026, 6, 1), known_to=2) == ["early"]
    assert words(one, late, mended, as_of=date(2026, 5, 31)) == []


def _twin(made: list[Entry]) -> tuple[set[str], set[str]]:
    """What counts and what is disputed, from the definition, by recursion."""

    def void(one: Entry) -> bool:
        return any(w.kind == "withdraw" and w.amends == one.id and not void(w) for w in made)

    def claims(one: Entry) -> list[Entry]:
        if void(one):
            return []
        heirs = [e for e in made if e.amends == one.id and e.kind != "withdraw"]
        return [c for heir in heirs for c in claims(heir)] or [one]

    roots = [e for e in made if e.amends is None]
    found = {one.id: claims(one) for one in roots}
    counted = {max(c, key=lambda e: e.seq or 0).id for c in found.values() if c}
    return counted, {id for id, c in found.items() if len(c) > 1}


@given(st.lists(st.tuples(st.sampled_from(["new", "amend", "withdraw"]), st.integers(0, 30)), max_size=25))
def test_random_logs_agree_with_a_plain_twin(steps: list[tuple[str, int]]) -> None:
    made: list[Entry] = []
    for kind, pick in steps:
        target = made[pick % len(made)] if made and kind != "new" else None
        if target is None:
            made.append(note("new"))
        elif kind == "amend" and target.kind == "note":
            made.append(note("amended", amends=target.id))
        else:
            made.append(withdraw(target))
    made = log(*made)
    found = standing(made)
    counted, disputed = _twin(made)
    assert {e.id for e in found.entries} == counted
    assert set(found.disputed) == disputed
    assert [e.seq for e in found.entries] == sorted(e.seq or 0 for e in found.entries)


def test_a_long_chain_of_amendments_is_no_trouble() -> None:
    made = [note("0")]
    for i in range(1, 5_000):
        made.append(note(str(i), amends=made[-1].id))
    assert words(*made) == ["4999"]
