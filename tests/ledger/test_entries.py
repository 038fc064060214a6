"""What an entry is: typed, checked, frozen, and the same wherever it is read."""

from __future__ import annotations

import json
import uuid
from datetime import date

import pytest
from pydantic import ValidationError

from tepal.ledger import (
    ALWAYS,
    BODIES,
    KINDS,
    Entry,
    Note,
    Stop,
    entry,
    entry_from_plain,
    event_date,
    new_id,
    row_id,
)
from tepal.ledger._ids import content_id
from tepal.tables import Refused

MADE = "2026-06-14T22:30:00-05:00"


def make(kind: str, body: dict, **more: object) -> Entry:
    return entry(kind, body, **{"by": "scout", "site": "north-eighty", "made_at": MADE, **more})


def test_every_kind_of_the_record_has_a_body() -> None:
    assert (
        *("site", "crop", "party", "report", "walk", "stop", "plant", "photo", "sound", "done", "move", "sample"),
        *("letter", "drill", "note", "withdraw", "forgotten"),
    ) == KINDS
    assert set(BODIES) == set(KINDS)


def test_an_id_by_time_is_a_version_7_uuid_and_sorts_by_time() -> None:
    early, late = uuid.UUID(new_id(unix_ms=1_000)), uuid.UUID(new_id(unix_ms=2_000))
    assert early.version == late.version == 7
    assert early.variant == uuid.RFC_4122
    assert str(early) < str(late)
    assert early.int >> 80 == 1_000
    assert len({new_id() for _ in range(1_000)}) == 1_000


def test_an_id_by_content_is_a_version_8_uuid_that_depends_on_each_part() -> None:
    parts = [("stop", "a", "row", 0), ("stop", "a", "row", 1), ("stop", "ar", "ow", 0), ("plant", "a", "row", 0)]
    ids = [row_id(*part) for part in parts]
    assert len(set(ids)) == len(parts)
    assert {uuid.UUID(one).version for one in ids} == {8}
    assert {uuid.UUID(one).variant for one in ids} == {uuid.RFC_4122}
    assert row_id(*parts[0]) == ids[0]
    assert content_id("ab", "c") != content_id("a", "bc")


def test_an_entry_is_frozen() -> None:
    made = make("note", {"words": "hay went to the feedlot"})
    with pytest.raises(ValidationError):
        made.by = "someone else"  # type: ignore[misc]
    with pytest.raises(ValidationError):
        made.body.words = "other"  # type: ignore[misc]


def test_an_entry_read_back_from_its_text_is_equal() -> None:
    made = make(
        "plant",
        {
            "stage": "vegetative",
            "looks": {"leaf_tip_notch": "deep", "petiole_blade_ratio_lower": [1.2, 1.4]},
            "height_cm": 12,
        },
    )
    again = entry_from_plain(json.loads(made.text()), where="line")
    assert again == made
    assert again.text() == made.text()
    assert again.made_at.utcoffset() == made.made_at.utcoffset()


def test_a_body_object_is_taken_as_it_is_and_must_fit_its_kind() -> None:
    body = Note(words="called back")
    assert make("note", body).body is body  # type: ignore[arg-type]
    with pytest.raises(Refused, match="Stop"):
        make("stop", body)  # type: ignore[arg-type]


def test_a_count_written_as_3_0_is_3() -> None:
    made = make("stop", {"counts": [{"taxon": "pigweed", "count": 3.0}]})
    assert isinstance(made.body, Stop)
    assert made.body.counts[0].count == 3


def test_area_is_row_length_times_row_width() -> None:
    stop = Stop(row_m=10.0, row_cm=76.2, counts=())
    assert stop.looked_at_m2 == pytest.approx(7.62)
    assert Stop(row_m=10.0, counts=()).looked_at_m2 is None
    assert Stop(area_m2=2.0, row_m=10.0, row_cm=76.2, counts=()).looked_at_m2 == 2.0


def test_the_event_date_is_the_day_where_the_person_stood() -> None:
    # 22:30 in Nebraska is already the next day in UTC.
    assert event_date(make("note", {"words": "x"})) == date(2026, 6, 14)
    assert event_date(make("note", {"words": "x", "on": "2026-06-01"})) == date(2026, 6, 1)
    assert event_date(make("site", {"name": "North Eighty", "ground": "field"})) == ALWAYS
    assert event_date(make("crop", {"year": 2026, "crop": "soybean", "planted": "2026-05-10"})) == date(2026, 5, 10)
    assert event_date(make("walk", {"started": "2026-06-12T08:00:00-05:00"})) == date(2026, 6, 12)


def test_a_re_entry_time_without_a_zone_is_read_as_the_latest_it_can_mean() -> None:
    made = make("done", {"what": "sprayed", "re_entry_until": "2026-06-15T08:00:00"})
    offset = made.body.re_entry_until.utcoffset()  # type: ignore[attr-defined]
    assert offset.total_seconds() == -10 * 3600
    same = make("done", {"what": "sprayed", "re_entry_until": "2026-06-15T08:00:00-05:00"})
    assert same.body.re_entry_until.utcoffset().total_seconds() == -5 * 3600  # type: ignore[attr-defined]


SQUARE = [[[0.0, 0.0], [0.1, 0.0], [0.1, 0.1], [0.0, 0.1], [0.0, 0.0]]]
BOWTIE = [[[0.0, 0.0], [1.0, 1.0], [1.0, 0.0], [0.0, 1.0], [0.0, 0.0]]]


@pytest.mark.parametrize(
    ("kind", "body", "more", "field"),
    [
        ("stop", {"counts": [{"taxon": "pigweed", "count": -1}]}, {}, "counts.0.count"),
        ("stop", {"counts": [{"taxon": "pigweed", "count": 1.5}]}, {}, "counts.0.count"),
        ("stop", {"counts": [{"taxon": "pigweed", "count": True}]}, {}, "counts.0.count"),
        ("stop", {"counts": [{"taxon": "pigweed", "count": "3"}]}, {}, "counts.0.count"),
        ("stop", {"counts": [{"taxon": "Palmer", "count": 1}]}, {}, "counts.0.taxon"),
        ("stop", {"counts": [{"taxon": "pigweed", "count": 1, "size": "huge"}]}, {}, "counts.0.size"),
        ("stop", {"counts": []}, {"site": None}, "site"),
        ("stop", {"counts": [], "at": [40.0, -98.0]}, {}, "at.1"),
        ("stop", {"counts": [], "at": [-198.0, 40.0]}, {}, "at.0"),
        ("stop", {"counts": [], "at": [float("nan"), 40.0]}, {}, "at.0"),
        ("stop", {"counts": [], "area_m2": 0}, {}, "area_m2"),
        ("stop", {"counts": [], "area_m2": float("inf")}, {}, "area_m2"),
        ("stop", {"counts": [], "area_m2": "2"}, {}, "area_m2"),
        ("stop", {}, {}, "counts"),
        ("stop", {"counts": [], "tallest": 3}, {}, "tallest"),
        ("crop", {"year": 2026}, {}, "crop"),
        ("crop", {"year": 26, "crop": "corn"}, {}, "year"),
        ("crop", {"year": 2026, "crop": "corn", "planted": "2026-05-10", "harvested": "2026-04-01"}, {}, "harvested"),
        ("crop", {"year": 2026, "crop": "corn", "bearing_deg": 360}, {}, "bearing_deg"),
        ("note", {"words": "x", "on": "2026-06-16"}, {}, "on"),
        ("note", {"words": "x", "on": "06/14/2026"}, {}, "on"),
        ("note", {"words": "x", "on": "2026-02-30"}, {}, "on"),
        ("note", {"words": "x", "on": 20260614}, {}, "on"),
        ("note", {"words": ""}, {}, "words"),
        ("note", {"words": "a\x00b"}, {}, "words"),
        ("note", {"words": "\ud800"}, {}, "words"),
        ("note", {"words": "x"}, {"made_at": "yesterday"}, "made_at"),
        ("note", {"words": "x"}, {"by": ""}, "by"),
        ("note", {"words": "x"}, {"id": "1"}, "id"),
        ("withdraw", {}, {}, "amends"),
        ("site", {"name": "A", "ground": "moon"}, {}, "ground"),
        (
            "site",
            {"name": "A", "ground": "field", "boundary": {"type": "Polygon", "coordinates": BOWTIE}},
            {},
            "boundary",
        ),
        (
            "site",
            {"name": "A", "ground": "field", "boundary": {"type": "Point", "coordinates": [0, 0]}},
            {},
            "boundary",
        ),
        (
            "site",
            {"name": "A", "ground": "field", "boundary": {"type": "Polygon", "coordinates": [[[0, 95]]]}},
            {},
            "boundary",
        ),
        ("plant", {"stage": "big", "looks": {}}, {}, "stage"),
        ("plant", {"stage": "vegetative", "looks": {"petiole": float("nan")}}, {}, "looks.petiole"),
        ("plant", {"stage": "vegetative", "looks": {"Leaf Tip": "deep"}}, {}, "looks"),
        ("plant", {"stage": "vegetative", "looks": {"petiole": []}}, {}, "looks.petiole"),
        ("plant", {"stage": "vegetative", "looks": {"petiole": True}}, {}, "looks.petiole"),
        ("plant", {"stage": "vegetative", "looks": {}, "count": 0}, {}, "count"),
        ("photo", {"sha256": "abc", "media_type": "image/jpeg", "size_bytes": 3}, {}, "sha256"),
        ("done", {"what": "burned"}, {}, "what"),
        ("done", {"what": "sprayed", "share": 1.2}, {}, "share"),
        ("party", {"name": "Larkmoor Farms", "roles": []}, {}, "roles"),
        ("walk", {"started": "2026-06-14T09:00:00Z", "ended": "2026-06-14T08:00:00Z"}, {}, "ended"),
        ("walk", {"track": {"type": "LineString", "coordinates": [[0, 0]]}}, {}, "track"),
        ("sample", {"step": "lost"}, {}, "step"),
        ("fable", {}, {}, "kind"),
    ],
)
def test_what_cannot_be_meant_is_refused_by_field(kind: str, body: dict, more: dict, field: str) -> None:
    with pytest.raises(Refused) as caught:
        make(kind, body, **more)
    assert caught.value.where.column == field
    assert "\n" not in str(caught.value)
    assert caught.value.rule.endswith(".")
    assert caught.value.step


def test_a_good_boundary_is_kept_as_it_was_drawn() -> None:
    made = make("site", {"name": "A", "ground": "field", "boundary": {"type": "Polygon", "coordinates": SQUARE}})
    assert made.body.boundary == {"type": "Polygon", "coordinates": SQUARE}  # type: ignore[attr-defined]


def test_an_id_in_capitals_is_the_same_id() -> None:
    id = new_id()
    assert make("note", {"words": "x"}, id=id.upper()).id == id
