"""`tepal years`: the keys that programs rely on, exit codes, refusals, the same bytes however it is run."""

from __future__ import annotations

import json
import os
import signal

import pytest

TWO = """
name = "{name}"
taxon = "AMATU"
[start]
seedbank_m2 = [300, 3000]
[resistance.9]
allele_share = [0.1, 0.4]
[resistance.metabolic]
allele_share = [0, 0.01]
weakens = {{ 15 = 0.4, 27 = 0.5 }}
[money]
price_t = {{ soybean = 420 }}
yield_t_ha = {{ soybean = 3.5 }}
[[season]]
crop = "soybean"
  [[season.residual]]
  groups = [15]
  cost_ha = 60
  [[season.post]]
  groups = [9]
  height_cm = 8
  cost_ha = 45
  [[season.pull]]
  share = {pulled}
"""


@pytest.fixture
def files(tmp_path):
    paths = []
    for name, pulled in (("Sprays alone", 0), ("Sprays and a crew", 0.9)):
        paths.append(tmp_path / f"{name[-4:].strip()}.toml")
        paths[-1].write_text(TWO.format(name=name, pulled=pulled))
    return paths


def told(run, *arguments):
    code, out, err = run("years", *arguments, "--json")
    assert (code, err) == (0, "")
    assert len(out.splitlines()) == 1
    return json.loads(out)


def test_the_keys_of_the_answer(run, files):
    found = told(run, *files, "--years", 3, "--replicates", 30, "--seed", 5)
    assert [p["name"] for p in found["programmes"]] == ["Sprays alone", "Sprays and a crew"]
    for programme in found["programmes"]:
        assert [year["year"] for year in programme["years"]] == [1, 2, 3]
        for year in programme["years"]:
            for key in ("seedbank_m2", "plants_m2", "seed_rain_m2", "yield_loss", "cost"):
                assert set(year[key]) == {"q05", "q50", "q95", "mean"}
                assert 0 <= year[key]["q05"] <= year[key]["q50"] <= year[key]["q95"]
            assert set(year["resistant"]) == {"9", "15", "27", "metabolic"}
            assert set(year["escapes"]) == {"9", "15", "27"}
            for each in (*year["resistant"].values(), *year["escapes"].values()):
                assert set(each) == {"q05", "q50", "q95", "mean"}
                assert 0 <= each["q05"] <= each["q95"] <= 1
            assert year["yield_loss"]["q95"] <= 1
            assert year["cost"]["mean"] == 105
        assert 0 <= programme["holds"] <= 1
        assert set(programme["fails"]) == {"9", "15", "27"}
        for each in programme["fails"].values():
            assert set(each) == {"q05", "q50", "q95"}
            assert all(year is None or year in (1, 2, 3) for year in each.values())


def test_discount_counts_later_years_less(run, files):
    plain, less = (
        told(run, files[0], "--years", 3, "--replicates", 20, *more)["programmes"][0]
        for more in ((), ("--discount", "0.1"))
    )
    by_year = [year["cost"]["mean"] + year["lost"]["mean"] for year in plain["years"]]
    assert plain["spent"]["mean"] == pytest.approx(sum(by_year))
    assert less["spent"]["mean"] == pytest.approx(sum(money / 1.1**at for at, money in enumerate(by_year)))


def test_what_matters_is_told_on_request(run, files):
    found = told(run, files[0], "--years", 2, "--replicates", 60, "--what-matters")["programmes"][0]["matters"]
    assert {"name", "first", "total"} == set(found[0])
    assert [m["total"] for m in found] == sorted((m["total"] for m in found), reverse=True)
    _, out, _ = run("years", files[0], "--years", 2, "--replicates", 60, "--what-matters")
    assert out.count("of the doubt") == 3


def test_a_person_reads_sentences(run, files):
    code, out, err = run("years", *files, "--years", 4, "--replicates", 50)
    assert (code, err) == (0, "")
    assert "Sprays and a crew: in 4 years" in out
    assert "an acre" in out and "bushels" in out and "hectare" not in out
    assert "Beside “Sprays alone”, with the same luck, “Sprays and a crew” leaves less seed in" in out
    _, metric, _ = run("years", *files, "--years", 4, "--replicates", 50, "--units", "metric")
    assert "a hectare" in metric and "acre" not in metric


def test_what_a_programme_leaves_open_is_said(run, tmp_path):
    open_ = tmp_path / "open.toml"
    open_.write_text(
        'taxon = "AMAPA"\n[start]\nseedbank_m2 = 10\n[money]\nprice_t = { cotton = 1500 }\n'
        '[[season]]\ncrop = "cotton"\n'
        '[[season.post]]\ngroups = [10]\nheight_cm = 25\n[[season.pull]]\nshare = 0.9\nwhen = "09-20"\nhours_ha = 3\n'
    )
    _, out, _ = run("years", open_, "--years", 1, "--replicates", 5)
    for said in ("Lost cotton is not priced", "no wage is told", "meets plants of 10 in", "pulled on September 20"):
        assert said in out
    found = told(run, open_, "--years", 1, "--replicates", 5)["programmes"][0]
    assert len(found["notes"]) == 4
    assert "lost" not in found["years"][0]
    assert "lost crop of" not in out


@pytest.mark.parametrize(("text", "said"), [
    ("seedbank_m2 = [3000, 300]", "low end of a range comes first"), ("seedbank_m2 = -4", "may not be negative"),
    ("seedbank_m2 = 4\ndeep_share = 1.2", "between 0 and 1"), ("seedbanc_m2 = 4", "Did you mean seedbank_m2?"),
])  # fmt: skip
def test_a_typing_error_is_no_forecast(run, tmp_path, text, said):
    bad = tmp_path / "bad.toml"
    bad.write_text(f'taxon = "AMATU"\n[start]\n{text}\n[[season]]\ncrop = "corn"\n')
    code, out, err = run("years", bad, "--json")
    assert (code, out) == (2, "")
    assert len(err.strip().splitlines()) == 1
    assert said in err and "bad.toml" in err and ("line " in err or ":3" in err or ":4" in err)


@pytest.mark.parametrize("more", [("--years", 0), ("--years", 61), ("--replicates", 0), ("--workers", 0),
                                  ("--discount", 2)])  # fmt: skip
def test_numbers_out_of_range_are_refused(run, files, more):
    code, out, err = run("years", files[0], *more)
    assert (code, out) == (2, "")
    assert str(more[0]) in err and len(err.strip().splitlines()) == 1


def test_no_file_and_a_taxon_nobody_has(run, tmp_path):
    assert run("years", tmp_path / "none.toml")[0] == 2
    assert run("years")[0] == 2
    odd = tmp_path / "odd.toml"
    odd.write_text('taxon = "ZEAMX"\n[start]\nseedbank_m2 = 1\n[[season]]\ncrop = "corn"\n')
    code, _, err = run("years", odd)
    assert code == 2
    assert "odd.toml, line 1" in err and "AMATU" in err


def test_the_same_seed_gives_the_same_bytes(run, files):
    ask = ("years", *files, "--years", 2, "--replicates", 40, "--json")
    assert run(*ask)[1] == run(*ask)[1]
    assert run(*ask)[1] != run(*ask, "--seed", 2)[1]


@pytest.mark.slow
def test_no_cluster_there(run, files):
    code, out, err = run("years", files[0], "--cluster", "tcp://127.0.0.1:1")
    assert (code, out) == (2, "")
    assert "no cluster answers" in err


@pytest.mark.slow
def test_workers_and_a_cluster_that_loses_a_worker_give_the_same_bytes(run, files):
    """A real cluster of two workers, one of them killed while it works: others take over, to the byte."""
    from threading import Thread
    from time import sleep

    from distributed import Client, LocalCluster

    ask = ("years", *files, "--years", 10, "--replicates", 4000, "--json")
    here = run(*ask)[1]
    assert run(*ask, "--workers", 2)[1] == here
    with LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as cluster:
        killed = []

        def kill():
            with Client(cluster.scheduler_address) as client:
                processes = client.run(os.getpid)
                while not (at_work := [worker for worker, tasks in client.processing().items() if tasks]):
                    sleep(0.01)
                os.kill(processes[at_work[0]], signal.SIGKILL)
                killed.append(at_work[0])

        thread = Thread(target=kill)
        thread.start()
        code, out, _ = run(*ask, "--cluster", cluster.scheduler_address)
        thread.join()
    assert killed
    assert code == 0
    assert out == here


def test_a_page_and_a_pdf(run, files, tmp_path):
    folder = tmp_path / "page"
    found = told(run, *files, "--years", 2, "--replicates", 20, "--out", folder, "--as-of", "2026-11-25")
    assert (folder / "outlook.pdf").read_bytes().startswith(b"%PDF")
    assert found["html"] == str(folder / "outlook.html")
    assert "November 25, 2026" in (folder / "outlook.html").read_text()
