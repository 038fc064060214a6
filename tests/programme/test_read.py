"""A programme's file is read as its form says, or refused with file, line and rule."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tepal.programme import Amount, read_programme, read_programme_text
from tepal.programme._lines import line_of
from tepal.tables import Refused

WHOLE = """\
name = "Two residuals, one post, pulling, mill"
taxon = "AMATU"
[field]
hectares = 16
row_cm = 76
[start]
seedbank_m2 = [300, 3000]
deep_share = 0.2
[resistance.9]
allele_share = [0.1, 0.4]
dominance = [0.4, 0.7]
cost = 0
kill_left = 0.15
[resistance.metabolic]
allele_share = [0, 0.01]
weakens = { 15 = 0.4, 27 = 0.5, 4 = 0.7 }
[money]
price_t = { soybean = 420 }
yield_t_ha = { soybean = 3.6 }
wage_hour = 25
currency = "$"
[[season]]
crop = "soybean"
planted = "05-10"
row_cm = 38
cover_crop_t_ha = 5
inversion = false
  [[season.residual]]
  groups = [15, 14]
  days_after_planting = 0
  lasts_days = 35
  kill = { 15 = 0.85 }
  cost_ha = 60
  [[season.post]]
  groups = [10]
  days_after_planting = 28
  height_cm = 8
  cost_ha = 45
  [[season.pull]]
  share = 0.95
  when = "before seed"
  cost_ha = 90
  [[season.cut]]
  height_cm = 2.5
  when = "08-01"
  [[season.cultivate]]
  days_after_planting = 25
  kill = 0.7
  [season.harvest]
  seed_control = "mill"
  order = "last"
  seed_brought_m2 = 0
[[season]]
crop = "corn"
  [[season.post]]
  groups = [
    9,   # a list over several lines
    4,
  ]
  height_cm = [6, 12]
[local]
emerges = 0.05
days_after_crop = 0
outside = { 9 = 0.5, metabolic = 0.1 }
"""


def test_every_key_of_the_form_is_read():
    programme = read_programme_text(WHOLE, name="p.toml")
    first, second = programme.season
    assert programme.field.hectares == 16
    assert programme.start.seedbank_m2 == Amount(300, 3000, "positive")
    assert programme.resistance["9"].kill_left == Amount(0.15, 0.15, "share")
    assert programme.metabolic is not None
    assert set(programme.metabolic.weakens) == {"15", "27", "4"}
    assert first.residual[0].kill == {"15": Amount(0.85, 0.85, "share")}
    assert first.cut[0].when == "08-01"
    assert first.harvest.seed_control == "mill"
    assert second.harvest.seed_control == "none"
    assert second.post[0].groups == ("9", "4")
    assert programme.season_of(3) is first
    assert programme.groups == ("4", "9", "10", "14", "15", "27")
    assert programme.local.outside["metabolic"] == Amount(0.1, 0.1, "share")
    assert programme.local.eaten is None


def test_a_programme_without_a_name_is_called_as_its_file(tmp_path):
    path = tmp_path / "mill-only.toml"
    path.write_text('taxon = "AMATU"\n[start]\nplants_m2 = 1\n[[season]]\ncrop = "fallow"\n')
    assert read_programme(path).name == "mill-only"


CASES = [
    ('hectares = 16', 'hectare = 16', 4, "Did you mean hectares?"),
    ('hectares = 16', 'hectares = 0', 4, "greater than 0"),
    ('[field]', '[feild]', 3, "Did you mean field?"),
    ('taxon = "AMATU"', '', None, "taxon must be given"),
    ('taxon = "AMATU"', 'taxon = "waterhemp"', 2, "EPPO code"),
    ('[300, 3000]', '[3000, 300]', 7, "low end of a range comes first"),
    ('[300, 3000]', '[300, 1000, 3000]', 7, "two numbers"),
    ('[300, 3000]', '"many"', 7, "It is a number"),
    ('[300, 3000]', 'true', 7, "It is a number"),
    ('[300, 3000]', 'nan', 7, "at most"),
    ('[300, 3000]', '-3', 7, "negative"),
    ('deep_share = 0.2', 'deep_share = 20', 8, "between 0 and 1"),
    ('[resistance.9]', '[resistance.glyphosate]', 9, "glyphosate is no group"),
    ('weakens = { 15', 'weakens = { 150', 16, "WSSA number"),
    ('weakens =', 'weaken =', 16, "Did you mean weakens?"),
    ('price_t = { soybean', 'price_t = { soya', 18, "one of corn, soybean"),
    ('crop = "corn"', 'crop = "maize"', 54, "one of corn, soybean"),
    ('planted = "05-10"', 'planted = "13-10"', 24, "MM-DD"),
    ('planted = "05-10"', 'planted = "02-29"', 24, "MM-DD"),
    ('planted = "05-10"', 'planted = 05-10', 24, "key = value"),
    ('groups = [15, 14]', 'groups = []', 29, "at least 1"),
    ('groups = [15, 14]', 'groups = [15, 15]', 28, "stands once"),
    ('groups = [15, 14]', 'groups = ["15"]', 29, "without quotes"),
    ('groups = [15, 14]', 'groups = [99]', 29, "1 to 39"),
    ('[resistance.9]', '[resistance.99]', 9, "99 is no group"),
    ('kill = { 15 = 0.85 }', 'kill = { 9 = 0.85 }', 28, "only groups of this spraying"),
    ('share = 0.95', 'share = 95', 40, "between 0 and 1"),
    ('when = "before seed"', 'when = "someday"', 41, "'before seed' or 'after seed'"),
    ('  days_after_planting = 28\n  height_cm = 8\n', '', 34, "days_after_planting or height_cm"),
    ('seed_control = "mill"', 'seed_control = "milled"', 50, "'none', 'mill'"),
    ('    4,\n', '    "x",\n', 56, "without quotes"),
    ('emerges = 0.05', 'emergence = 0.05', 62, "Did you mean emerges?"),
    ('seedbank_m2 = [300, 3000]', '', 6, "seedbank_m2 must be given, or plants_m2"),
    ('[local]', 'metabolic = 1\n[local]', 61, "unknown key"),
    ('[start]', '[start', 6, "key = value"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "line", "said"), CASES, ids=[case[1][:30] or "nothing" for case in CASES])
def test_what_is_wrong_is_named_with_its_line(old, new, line, said):
    assert old in WHOLE
    with pytest.raises(Refused) as refused:
        read_programme_text(WHOLE.replace(old, new, 1), name="p.toml")
    assert said in str(refused.value)
    assert (refused.value.where.file, refused.value.where.line) == ("p.toml", line)


def test_bytes_that_are_no_utf_8_name_their_line(tmp_path):
    path = tmp_path / "p.toml"
    path.write_bytes(b'taxon = "AMATU"\nname = "caf\xe9"\n')
    with pytest.raises(Refused, match="line 2"):
        read_programme(path)
    with pytest.raises(Refused, match="cannot be read"):
        read_programme(tmp_path / "none.toml")


KEYS = st.sampled_from(["a", "b", "c", "long-key", '"quoted key"'])
VALUES = st.sampled_from(
    ["1", '"x # no comment"', "[\n 1,\n [2, 3]] # ]", '"""\nk = 1\n"""', "{ z = 1 }", "'''a''' # [t]"]
)


@given(tables=st.lists(st.tuples(st.booleans(), KEYS, st.dictionaries(KEYS, VALUES, max_size=4)), max_size=6))
def test_lines_are_those_of_the_text(tables):
    """The truth is kept while the text is written; the text must be one that the standard parser takes."""
    lines, told, counts = [], {}, {}
    for listed, name, body in tables:
        plain = name.strip('"')
        if plain in told or ((plain in counts) != listed and plain in counts):
            continue
        lines.append("# a line\n\n" + (f"[[{name}]]" if listed else f"[{name}]"))
        path = (plain,)
        if listed:
            counts[plain] = counts.get(plain, -1) + 1
            path = (plain, counts[plain])
        told[path if listed else plain] = None
        for key, value in body.items():
            before = "\n".join(lines).count("\n")
            lines.append(f"  {key} = {value}")
            told[(*path, key.strip('"'))] = before + 2
    text = "\n".join(lines)
    tomllib.loads(text)
    for path, line in told.items():
        if line is not None:
            assert line_of(text, path) == line


def _one(tactic: str):
    text = f'taxon = "AMATU"\n[start]\nseedbank_m2 = 1\n[[season]]\ncrop = "corn"\n{tactic}\n'
    return read_programme_text(text, name="p.toml").season[0]


def test_none_at_all_is_a_number_too():
    assert _one("[[season.cut]]\nheight_cm = 0").cut[0].height_cm.high == 0  # at the soil line
    assert _one("[[season.residual]]\ngroups = [15]\nlasts_days = 0").residual[0].lasts_days.high == 0


def test_days_are_whole():
    assert _one("[[season.cultivate]]\ndays_after_planting = 25.0").cultivate[0].days_after_planting == 25
    with pytest.raises(Refused, match="whole number of days"):
        _one("[[season.cultivate]]\ndays_after_planting = 25.5")
