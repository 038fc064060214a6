"""Kept readings: made of what concerns a site, kept until that changes, and never waited for."""

from __future__ import annotations

import time
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from _desk_world import desk_of, settle
from _served import OTHER, OWN, World
from tepal import reading as readings
from tepal.ledger import Ledger, WeatherBatch, WeatherDay, entry
from tepal.serve.desk._cache import Brief, Cache, Key
from tepal.serve.desk._concerns import Concerns
from tepal.serve.desk._told import wording
from tepal.words import Words

DAY = date(2026, 6, 18)


def _some_entry(rng: np.random.Generator, ledger: Ledger, n: int) -> None:
    """One thing more into the ledger: mostly of one of four sites, sometimes weather or a withdrawal."""
    site = f"site-{rng.integers(4)}"
    kind = rng.choice(["site", "stop", "plant", "sample", "proof", "drill", "weather", "withdraw"])
    if kind == "weather":
        start = date(2026, 5, 1) + timedelta(days=n)
        station = f"station-{rng.integers(2)}"
        place = (-96.0 - 0.5 * float(station[-1]), 41.5)
        day = WeatherDay(start, 10.0, 24.0, 1.0)
        ledger.add([], weather=[WeatherBatch(station, (day,), *place)])
        return
    bodies = {
        "site": {"name": site, "ground": "field", "county": f"County {rng.integers(2)}", "point": [-96.1, 41.5]},
        "stop": {"counts": [{"taxon": "pigweed", "count": int(rng.integers(5))}], "area_m2": 2.0},
        "plant": {"stage": "vegetative", "looks": {"stem_hair_upper": "none"}},
        "sample": {"step": "sent", "what": "leaf"},
        "drill": {"reader": f"Reader {rng.integers(3)}", "answers": [{"question": "q", "said": "a", "right": True}]},
        "proof": {"step": "result", "taxon": str(rng.choice(["AMAPA", "AMATU"])), "sure": 0.99, "test": "species"},
    }
    made_at = "2026-06-17T12:00:00-05:00"
    if kind == "withdraw":
        old = ledger.entries()
        if old:
            one = old[int(rng.integers(len(old)))]
            ledger.add([entry("withdraw", {}, by="x", site=one.site, amends=one.id, made_at=made_at)])
        return
    plain = "sample" if kind == "proof" else str(kind)
    by = f"reader {rng.integers(3)}"
    ledger.add([entry(plain, bodies[str(kind)], by=by, site=None if kind == "drill" else site, made_at=made_at)])


@pytest.mark.parametrize("seed", range(3))
def test_what_came_after_the_place_that_concerns_a_site_changes_nothing_of_its_evidence(
    seed: int, tmp_path: Path
) -> None:
    rng = np.random.default_rng(seed)
    with Ledger.open(tmp_path / "l.ledger", create=True) as ledger:
        followed = Concerns(ledger)
        saved = 0
        for n in range(40):
            _some_entry(rng, ledger, n)
            followed.look()
            afresh = Concerns(ledger)
            afresh.look()
            for site in ledger.site_ids():
                whole = readings.gather(ledger, site, as_of=DAY)
                station = None if whole.weather is None else whole.weather.station
                place = followed.of(site, station)
                assert place == afresh.of(site, station)
                then = readings.gather(ledger, site, as_of=DAY, known_to=place)
                assert then.standing.entries == whole.standing.entries
                assert then.about == whole.about
                assert (then.weather is None) == (whole.weather is None)
                if whole.weather is not None and then.weather is not None:
                    assert then.weather.station == whole.weather.station
                    assert np.array_equal(then.weather.dates, whole.weather.dates)
                    assert np.array_equal(then.weather.tmax_c, whole.weather.tmax_c)
                saved += place < ledger.last_seq
        # It would be of no use if everything always concerned every site.
        assert saved > 20


@pytest.mark.parametrize("store", ["sqlite", "postgresql"])
def test_a_kept_reading_comes_back_and_may_be_thrown_away(
    store: str, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    where = str(tmp_path / "l") if store == "sqlite" else request.getfixturevalue("postgresql_url")
    with Ledger.open(where, create=True, photos=tmp_path) as ledger:
        cache = Cache(ledger)
        from datetime import UTC, datetime

        def brief(on: int, minute: int, name: str = "é — 麦") -> Brief:
            made = datetime(2026, 6, 18, 12, minute, tzinfo=UTC)
            return Brief("a", date(2026, 6, on), Key(7, "t", "s", "v"), made, {"name": name})

        for on in range(1, 12):
            cache.put([(brief(on, on), {"day": on, "text": "x" * 5000})])
        cache.put([(brief(11, 30, "again"), {"day": "again"})])
        assert cache.briefs(date(2026, 6, 11)) == {"a": brief(11, 30, "again")}
        assert cache.page(brief(11, 30)) == {"day": "again"}
        # A day without a reading of its own shows the last one before it; one before all of them, none.
        assert cache.briefs(date(2026, 7, 1))["a"].as_of == date(2026, 6, 11)
        assert cache.briefs(date(2026, 6, 8))["a"] == brief(8, 8)
        assert cache.briefs(date(2026, 6, 2)) == {}  # only the days made last are kept
        cache.empty()
        assert cache.briefs(date(2026, 6, 11)) == {}
        assert cache.page(brief(11, 30)) is None


def test_an_entry_makes_its_own_sites_reading_anew_and_no_others(county: World) -> None:
    desk, today = desk_of(county), county.settings.today()
    before = {shown.site: shown.brief for shown in desk.readings.all(today)}
    county.add("more", "stop", {"counts": [{"taxon": "pigweed", "count": 9}], "area_m2": 1.0})
    shown = desk.readings.of(OWN, today)
    # At once: the last one, and that it does not hold any more.
    assert shown.brief == before[OWN]
    assert not shown.holds
    assert desk.readings.of(OTHER, today).holds
    settle(county)
    after = {shown.site: shown.brief for shown in desk.readings.all(today)}
    assert after[OTHER] == before[OTHER]
    now, old = after[OWN], before[OWN]
    assert now is not None
    assert old is not None
    assert now.key.position == county.ledger.last_seq > old.key.position


def test_what_is_kept_says_what_the_room_of_readings_says(county: World) -> None:
    desk, today = desk_of(county), county.settings.today()
    shown = desk.readings.of(OWN, today)
    page = desk.readings.page(shown)
    assert shown.brief is not None
    assert page is not None
    made = readings.read(county.ledger, OWN, as_of=today, known_to=shown.told["known_to"], flora=desk.readings.flora)
    assert page["document"]["stand"] == readings.to_json(made)["stand"]
    for words in (Words(), Words("es"), Words("en", "metric"), Words("es", "metric")):
        assert page["words"][wording(words)]["who"] == readings.who(made, words)
        assert shown.told["words"][wording(words)]["sentence"] == readings.who(made, words)


def test_a_new_day_shows_yesterdays_reading_until_todays_is_there(county: World) -> None:
    desk = desk_of(county)
    county.clock.pass_(days=1)
    today = county.settings.today()
    shown = desk.readings.of(OWN, today)
    assert shown.brief is not None
    assert (shown.brief.as_of, shown.holds) == (today - timedelta(days=1), False)
    settle(county)
    assert desk.readings.of(OWN, today).told["as_of"] == today.isoformat()


def test_kept_readings_are_there_after_a_restart_and_are_not_made_again(county: World) -> None:
    from tepal.serve.desk import Readings

    again = Readings(county.ledger, now=county.settings.now, today=county.settings.today)
    # Nothing was started: nothing can have been made.
    assert all(shown.holds and shown.brief is not None for shown in again.all(county.settings.today()))


def test_of_a_site_that_cannot_be_read_the_reason_is_told(county: World) -> None:
    desk, today = desk_of(county), county.settings.today()
    standing = county.ledger.standing(OTHER)
    roots = [standing.root[one.id] for one in standing.entries]
    gone = [entry("withdraw", {}, by="Cora", site=OTHER, amends=root) for root in roots]
    assert county.ledger.add(gone).added == len(roots)
    settle(county)
    shown = desk.readings.of(OTHER, today)
    assert shown.refused is not None
    assert "not on record" in shown.refused.what
    page = county.get("Cora", f"/sites/{OTHER}")
    assert page.status_code == 200
    assert "not on record" in page.text
    assert county.get("Cora", "/").status_code == 200


def test_what_broke_on_the_machine_is_tried_again_and_hides_nothing(
    county: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    from tepal.serve.desk import _readings, _reckoner

    desk, today = desk_of(county), county.settings.today()
    before = desk.readings.of(OWN, today).brief
    real, broken = _reckoner.reckon, []

    def breaks(ledger: str, law: str | None, wanted: _reckoner.Wanted) -> _reckoner.Told:
        if wanted.site == OWN and not broken:
            broken.append(wanted)
            raise MemoryError
        return real(ledger, law, wanted)

    monkeypatch.setattr(_reckoner, "reckon", breaks)
    monkeypatch.setattr(_readings, "_AGAIN_S", 1.0)
    county.add("more", "stop", {"counts": [], "area_m2": 1.0})
    while not broken or desk.readings.progress.busy:
        shown = desk.readings.of(OWN, today)
        assert shown.brief == before
        assert not shown.holds
    assert desk.readings.of(OWN, today).refused is not None
    assert "could not be made" in county.get("Cora", f"/sites/{OWN}").text
    settle(county)
    assert desk.readings.of(OWN, today).refused is None


def test_the_desk_stands_on_postgresql_too(postgresql_url: str, tmp_path: Path) -> None:
    from _desk_world import open_county
    from _served import build

    with Ledger.open(postgresql_url, create=True, photos=tmp_path) as ledger:
        world = build(ledger)
        open_county(world)
        try:
            page = world.get("Cora", f"/sites/{OWN}")
            assert page.status_code == 200
            shown = desk_of(world).readings.of(OWN, world.settings.today())
            assert shown.told["words"]["en-us"]["sentence"].partition(".")[0] in page.text
            assert world.get("Cora", f"/sites/{OWN}/why?of=/taxa").status_code == 200
        finally:
            desk_of(world).close()


def test_a_finding_weighs_less_the_farther_it_lies_and_a_site_weighs_its_own_most(county: World) -> None:
    from tepal.serve.desk._prior import Places

    flora, today = desk_of(county).readings.flora, county.settings.today()
    found = [{"code": "AMAPA", "by": "laboratory", "on": today.isoformat(), "plants": 3}]

    def place(site: str, lon: float, found: list[dict[str, object]]) -> dict[str, object]:
        return {"site": site, "centre": [lon, 41.5], "region": "CB", "found": found}

    places = Places([place("here", -96.0, found), *(place(f"at {d}", -96.0 + d, []) for d in (0.01, 0.05, 0.1, 1.0))])
    priors = [places.prior(site, as_of=today, flora=flora) for site in ("here", "at 0.01", "at 0.05", "at 0.1")]
    shares = [prior["AMAPA"] for prior in priors if prior is not None]
    assert len(shares) == 4
    assert shares == sorted(shares, reverse=True)
    assert places.prior("at 1.0", as_of=today, flora=flora) is None  # 80 km off
    assert places.prior("nowhere", as_of=today, flora=flora) is None


_SERVER = """
import os, sys, time
from datetime import date
from tepal.serve.desk._reckoner import Reckoner

def main():
    queue = Reckoner(sys.argv[1], None, lambda wanted, answer: None)
    queue.start(1)
    queue.submit(os.getpid).result()
    print(queue.submit(os.getpid).result(), flush=True)
    time.sleep(600)

if __name__ == "__main__":
    main()
"""


def test_a_worker_ends_when_the_server_is_killed(tmp_path: Path) -> None:
    import os
    import signal
    import subprocess
    import sys
    import time

    script = tmp_path / "server.py"
    script.write_text(_SERVER)
    server = subprocess.Popen([sys.executable, str(script), "none.ledger"], stdout=subprocess.PIPE, text=True)
    assert server.stdout is not None
    worker = int(server.stdout.readline())
    assert worker != server.pid
    server.send_signal(signal.SIGKILL)
    server.wait()
    end = time.monotonic() + 30
    while time.monotonic() < end:
        try:
            os.kill(worker, 0)
        except ProcessLookupError:
            return
        time.sleep(0.05)
    raise AssertionError(f"worker {worker} lives on")


def test_after_midnight_what_was_opened_last_and_what_closes_next_is_made_first(
    county: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    from tepal.serve.desk import Readings, _reckoner

    today = county.settings.today()
    kept = desk_of(county).readings.of(OWN, today, opened=False).brief
    assert kept is not None
    page = Cache(county.ledger).page(kept)
    assert page is not None
    closes = {"a-late": "2026-08-01", "b-never": None, "c-soon": "2026-06-20", "d-opened": "2026-09-01"}
    for site, by in closes.items():
        county.add(site, "note", {"words": "there"}, site=site)
        told = kept.told | {"site": site, "by": by}
        Cache(county.ledger).put([(Brief(site, today, kept.key, kept.made_at, told), page)])
    county.add("new", "note", {"words": "there"}, site="e-never-read")
    county.clock.pass_(days=1)
    made: list[str] = []

    def noted(ledger: str, law: str | None, wanted: _reckoner.Wanted) -> _reckoner.Told:
        made.append(wanted.site)
        return kept.told | {"site": wanted.site}, page or {}

    monkeypatch.setattr(_reckoner, "reckon", noted)
    tomorrow = county.settings.today()
    again = Readings(county.ledger, now=county.settings.now, today=county.settings.today)
    try:
        again.of("d-opened", today)  # the evening before
        made.clear()
        again.all(tomorrow)
        again.of("a-late", tomorrow, opened=False)  # a phone asks for it: nobody looks at it
        assert again.settled(tomorrow, seconds=0) is False
        again.start(workers=0)
        for _ in range(600):
            if len([site for site in made if site in closes]) == len(closes) and not again.progress.busy:
                break
            time.sleep(0.02)
    finally:
        again.close()
    order = [site for site in dict.fromkeys(made) if site in {*closes, "e-never-read"}]
    assert order == ["d-opened", "e-never-read", "c-soon", "a-late", "b-never"]


def test_what_somebody_looks_at_is_made_before_all_else_whatever_comes_in_meanwhile() -> None:
    from tepal.serve.desk._reckoner import Reckoner, Wanted

    queue = Reckoner("nowhere", None, lambda wanted, answer: None)
    for n, site in enumerate("abcd"):
        queue.want(Wanted(site, DAY, 1), turn=(1, 10 - n))
    queue.want(Wanted("a", DAY, 1), first=True)
    queue.want(Wanted("b", DAY, 1), first=True)
    queue.want(Wanted("a", DAY, 2), turn=(1, 10))  # an entry comes in: the one wish takes the place of the other
    queue.want(Wanted("d", DAY, 1), turn=(1, 99))  # what was nearer stays nearer
    taken = []
    while found := queue._next():
        taken += [(one.site, one.position) for one in found]
    assert taken == [("b", 1), ("a", 2), ("d", 1), ("c", 1)]
