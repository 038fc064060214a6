"""Random entries of every kind, each field present or not."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from typing import Any

from hypothesis import strategies as st

from tepal.ledger import Entry, entry

_SIGNS = st.characters(exclude_categories=("Cs", "Cc"))
# What files and spreadsheets trip over: formulas, quotes, separators, line ends inside text, U+2028.
_TRICKY = st.sampled_from(
    ["=1+1", "-3", "@x", '"quoted"', "a,b;c", "two\nlines", "a\u2028b", "ñandú", "'", "+1", "null"]
)
text = st.one_of(_TRICKY, st.text(_SIGNS, min_size=1, max_size=20))
_TURNS = dict.fromkeys((0x061C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A)))
line = text.map(lambda t: " ".join(t.translate(_TURNS).split())).filter(bool)
lon = st.floats(-180, 180, allow_nan=False)
lat = st.floats(-90, 90, allow_nan=False)
point = st.tuples(lon, lat).map(list)
positive = st.floats(1e-6, 1e6)
count = st.integers(0, 1000)
share = st.floats(0, 1)
day = st.dates(datetime(2020, 1, 1).date(), datetime(2026, 6, 1).date()).map(str)
moment = st.datetimes(datetime(2020, 1, 1), datetime(2026, 6, 1), timezones=st.just(UTC)).map(datetime.isoformat)
code = st.sampled_from(["AMAPA", "AMATU", "pigweed", "other", "AMAPAxAMATU", "X_AMAREN"])
sha256 = st.binary(min_size=32, max_size=32).map(bytes.hex)
yes_no = st.booleans()
look = st.one_of(st.sampled_from(["deep", "none", "cannot_tell"]), st.integers(0, 9), st.floats(0, 1e3))
square = st.tuples(st.floats(-179, 178), st.floats(-89, 88), st.floats(1e-3, 1)).map(
    lambda c: {
        "type": "Polygon",
        "coordinates": [
            [[c[0], c[1]], [c[0] + c[2], c[1]], [c[0] + c[2], c[1] + c[2]], [c[0], c[1] + c[2]], [c[0], c[1]]]
        ],
    }
)
track = st.lists(point, min_size=2, max_size=5).map(lambda c: {"type": "LineString", "coordinates": c})
tally = st.fixed_dictionaries(
    {"taxon": code, "count": count}, optional={"size": st.just("10_30_cm"), "tallest_cm": st.floats(0, 300)}
)
ingredient = st.fixed_dictionaries(
    {"name": line}, optional={"rate": positive, "unit": line, "group": st.sampled_from(["9", "14", "NC"])}
)
answer = st.fixed_dictionaries({"question": line, "said": line}, optional={"sure": share, "right": yes_no})


def many(one: st.SearchStrategy[Any], least: int = 0) -> st.SearchStrategy[list[Any]]:
    return st.lists(one, min_size=least, max_size=3)


NEEDED: dict[str, dict[str, st.SearchStrategy[Any]]] = {
    "site": {"name": line, "ground": st.sampled_from(["field", "ditch", "other"])},
    "crop": {"year": st.integers(2020, 2027), "crop": line},
    "party": {"name": line, "roles": many(st.sampled_from(["owner", "farms", "may_be_told"]), 1)},
    "report": {"how": st.sampled_from(["call", "letter"]), "words": text},
    "walk": {},
    "stop": {"counts": many(tally)},
    "plant": {
        "stage": st.sampled_from(["vegetative", "unknown"]),
        "looks": st.dictionaries(
            st.sampled_from(["leaf_tip_notch", "petiole_length"]),
            st.one_of(look, st.lists(look, min_size=1, max_size=3)),
        ),
    },
    "done": {"what": st.sampled_from(["sprayed", "pulled", "other"])},
    "move": {"what": line},
    "sample": {"step": st.sampled_from(["made", "result"])},
    "letter": {},
    "drill": {"reader": line},
    "note": {"words": text},
    "sound": {
        "sha256": sha256,
        "media_type": st.sampled_from(["audio/webm", "audio/mp4", "audio/ogg"]),
        "size_bytes": st.integers(1, 10_000_000),
    },
}
OPTIONAL: dict[str, dict[str, st.SearchStrategy[Any]]] = {
    "site": {
        "boundary": square,
        "point": point,
        "legal": text,
        "region": st.just("CB"),
        "features": many(
            st.fixed_dictionaries({"kind": st.just("waterway")}, optional={"name": line, "geometry": track})
        ),
    },
    "crop": {"traits": many(line), "planted": day, "row_cm": positive, "bearing_deg": st.floats(0, 359), "part": text},
    "party": {"contact": text, "consent_to_enter": yes_no, "consent_on": day},
    "report": {
        "who": line,
        "place": st.fixed_dictionaries({}, optional={"words": text, "point": point, "error_m": positive}),
        "photos": many(sha256),
    },
    "walk": {
        "who": line,
        "started": moment,
        "track": track,
        "sigma_m": positive,
        "found": count,
        "looked_for": many(code),
    },
    "stop": {
        "at": point,
        "error_m": positive,
        "area_m2": positive,
        "row_m": positive,
        "row_cm": positive,
        "by_sight": yes_no,
    },
    "plant": {"at": point, "height_cm": st.floats(0, 400), "flowering": yes_no, "count": st.integers(1, 50)},
    "done": {
        "ingredients": many(ingredient),
        "share": share,
        "hours": positive,
        "re_entry_until": moment,
        "pre_harvest_until": day,
        "survivors": yes_no,
    },
    "move": {"from_site": line, "to_words": text, "tag": line},
    "sample": {
        "taxon": code,
        "sure": share,
        "resistant": st.dictionaries(st.sampled_from(["2", "9"]), st.sampled_from(["resistant", "mixed"])),
    },
    "letter": {"to": line, "as_of": day, "known_to": count, "sha256": sha256, "text": text},
    "drill": {"answers": many(answer)},
    "note": {},
    "sound": {"seconds": positive},
}
_MADE = st.datetimes(
    datetime(2026, 6, 2),
    datetime(2026, 9, 1),
    timezones=st.sampled_from([UTC, timezone(timedelta(hours=-5)), timezone(timedelta(hours=9, minutes=30))]),
)


@st.composite
def logs(draw: st.DrawFn, max_size: int = 12) -> list[Entry]:
    """A log in an order that a ledger takes: amendments and withdrawals after their entries."""
    made: list[Entry] = []
    for _ in range(draw(st.integers(0, max_size))):
        kind = draw(st.sampled_from([*NEEDED, "withdraw", "amendment"]))
        target = draw(st.sampled_from(made)) if made and kind in {"withdraw", "amendment"} else None
        if kind == "withdraw" and target is None:
            continue
        if kind == "amendment":
            kind = target.kind if target else "note"
        if kind == "withdraw":
            needed, optional = {}, {"reason": text}
        else:
            needed, optional = NEEDED[kind], OPTIONAL[kind]
        may = {name: one for name, one in {"on": day, "words": text, **optional}.items() if name not in needed}
        body = draw(st.fixed_dictionaries(needed, optional=may))
        site = target.site if target else draw(st.sampled_from(["a", "North Eighty", "ditch/7"]))
        amends = target.id if target else None
        made.append(entry(kind, body, by=draw(line), site=site, made_at=draw(_MADE), amends=amends))
    return made
