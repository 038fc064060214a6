"""What a photo says of itself, as another library wrote it; and nothing that it says can break the taking in."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.pictures import picture
from tepal.ledger import Defaults, Ledger, take
from tepal.ledger.formats._pictures import read_picture
from tepal.tables import Refused

KINDS = st.sampled_from(["JPEG", "PNG"])


@given(KINDS, st.floats(-180, 180), st.floats(-90, 90))
def test_the_place_comes_back_to_a_hand_s_breadth(kind: str, lon: float, lat: float) -> None:
    found = read_picture(picture(kind=kind, lonlat=(lon, lat)), file="p")
    assert (found.width, found.height) == (8, 6)
    if found.lonlat is None:  # nought by nought is a receiver without a fix
        assert max(abs(lon), abs(lat)) < 1e-6
    else:
        assert found.lonlat == pytest.approx((lon, lat), abs=1e-6)


@given(
    KINDS,
    st.datetimes(datetime(1991, 1, 1), datetime(2100, 1, 1)).map(lambda t: t.replace(microsecond=0)),
    st.integers(-48, 56),
)
def test_the_time_comes_back_with_the_zone_of_the_camera_or_of_its_satellites(
    kind: str, clock: datetime, quarters: int
) -> None:
    zone = timezone(timedelta(minutes=15 * quarters))
    moment = clock.replace(tzinfo=zone)
    said = f"{clock:%Y:%m:%d %H:%M:%S}"
    minutes = abs(quarters) * 15
    offset = f"{'-' if quarters < 0 else '+'}{minutes // 60:02d}:{minutes % 60:02d}"
    assert read_picture(picture(kind=kind, taken=said, offset=offset), file="p").taken_at == moment
    utc = moment.astimezone(UTC)
    fix = (f"{utc:%Y:%m:%d}", (utc.hour, utc.minute, utc.second))
    found = read_picture(picture(kind=kind, taken=said, fix=fix), file="p").taken_at
    assert found == moment
    assert found is not None and found.utcoffset() == zone.utcoffset(None)
    # A clock without a zone keeps its date, which is what counts.
    plain = read_picture(picture(kind=kind, taken=said), file="p").taken_at
    assert plain is not None and plain.replace(tzinfo=None) == clock


@pytest.mark.parametrize(
    "taken", ["0000:00:00 00:00:00", "1970:01:01 00:00:00", "2026:13:01 00:00:00", "yesterday", ""]
)
def test_a_clock_that_was_never_set_says_nothing(taken: str) -> None:
    assert read_picture(picture(taken=taken), file="p").taken_at is None


@given(KINDS, st.data())
def test_a_cut_photo_is_refused_wherever_it_was_cut(kind: str, data: st.DataObject) -> None:
    whole = picture(kind=kind, taken="2026:06:14 10:00:00", lonlat=(-98.0, 40.0))
    length = data.draw(st.integers(0, len(whole) - 2))
    with pytest.raises(Refused):
        read_picture(whole[:length], file="p")


@given(KINDS, st.data())
def test_a_photo_with_any_bytes_changed_is_read_or_refused(kind: str, data: st.DataObject) -> None:
    raw = bytearray(picture(kind=kind, taken="2026:06:14 10:00:00", lonlat=(-98.0, 40.0)))
    for _ in range(data.draw(st.integers(1, 6))):
        raw[data.draw(st.integers(0, len(raw) - 1))] = data.draw(st.integers(0, 255))
    try:
        found = read_picture(bytes(raw), file="p")
    except Refused:
        return
    assert found.lonlat is None or (abs(found.lonlat[0]) <= 180 and abs(found.lonlat[1]) <= 90)


def test_a_photo_taken_in_has_its_day_and_place_and_one_from_the_future_no_day(tmp_path: Path) -> None:
    now, later = tmp_path / "a.jpg", tmp_path / "b.jpg"
    now.write_bytes(picture(1, taken="2026:06:14 10:00:00", offset="-05:00", lonlat=(-98.0, 40.0)))
    later.write_bytes(picture(2, taken="2031:06:14 10:00:00"))
    found = take([now, later], tmp_path / "l", defaults=Defaults(today=date(2026, 9, 1), by="scout"))
    assert found.added == 2
    assert "2031-06-14, which has not been yet: not used" in str(found.understood[1].notes)
    with Ledger.open(tmp_path / "l") as ledger:
        one, two = (entry.plain()["body"] for entry in ledger.entries(kinds=("photo",)))
    assert (one["taken_at"], one["at"]) == ("2026-06-14T10:00:00-05:00", [-98.0, 40.0])
    assert "taken_at" not in two


def test_a_large_claim_costs_no_memory() -> None:
    import tracemalloc

    from ledger.broken import png_claiming

    raw = png_claiming(19_000, 19_000)
    read_picture(raw, file="p")
    tracemalloc.start()
    assert read_picture(raw, file="p").width == 19_000
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 1_000_000
