"""Every character and state has a plate; it is sound SVG, the same each time, small, and unlike its neighbours."""

from __future__ import annotations

import io
import re
import shutil
import tomllib
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
import typst
from PIL import Image

from plates.measured import SVG, box, datas, lines, tree
from tepal.flora import Flora, load
from tepal.plates import (
    LEVELS,
    PARTS,
    Plate,
    bare,
    draw,
    draw_all,
    draw_taxon,
    draw_taxon_all,
    levels_of,
    names,
    parts_of,
    states,
)
from tepal.tables import Refused
from tepal.words import Words

ROOT = Path(__file__).resolve().parents[2]
PIGWEEDS = ROOT / "src" / "tepal" / "flora" / "pigweeds"
FOXTAILS = ROOT / "tests" / "flora" / "foxtails"


@pytest.fixture(scope="module")
def every(flora: Flora) -> list[Plate]:
    return list(draw_all(flora))


@pytest.fixture(scope="module")
def taxa(flora: Flora) -> list[Plate]:
    return [plate for code in flora.taxa for plate in draw_taxon_all(flora, code)]


def test_every_character_and_every_state_is_drawn(flora: Flora, every: list[Plate]) -> None:
    wanted = {(c.name, state) for c in flora.characters.values() for state in c.states or LEVELS}
    assert {(plate.character, plate.state) for plate in every} == wanted
    assert len({plate.name for plate in every}) == len(every) == len(wanted)


def test_a_new_state_without_a_drawing_is_noticed(tmp_path: Path) -> None:
    folder = shutil.copytree(PIGWEEDS, tmp_path / "pigweeds")
    with (folder / "states.csv").open("a", encoding="utf-8") as file:
        file.write("leaf_outline,kidney,kidney-shaped leaves\n")
    changed = load("pigweeds", folder=folder)
    assert ("leaf_outline", "kidney") in set(names(changed))
    with pytest.raises(Refused, match=r"no drawing of leaf_outline=kidney .*plates.toml"):
        list(draw_all(changed))


def test_plates_are_sound_svg_that_asks_for_nothing(every: list[Plate], taxa: list[Plate]) -> None:
    for plate in [*every, *taxa]:
        root = tree(plate.svg)
        assert root.tag == f"{SVG}svg"
        assert (root.get("role"), root.get("aria-label")) == ("img", plate.alt)
        assert root.findtext(f"{SVG}title") == plate.title
        assert root.findtext(f"{SVG}desc") == plate.alt
        kinds = {element.tag.removeprefix(SVG) for element in root.iter()}
        assert kinds <= {"svg", "title", "desc", "path", "g", "text"}, plate.name
        # Nothing to fetch, run or style from without; and no ids, so that many may stand on one page.
        assert not re.search(r"href|url\(|https?://(?!www\.w3\.org/2000/svg)|script|style=|\bid=|\bon\w+=", plate.svg)


def test_nothing_is_drawn_off_the_sheet(every: list[Plate], taxa: list[Plate]) -> None:
    for plate in [*every, *taxa]:
        drawn = [line for d in datas(plate.svg) for line in lines(d)]
        left, top, right, bottom = box(*drawn)
        assert (left >= -2, top >= -2, right <= 102, bottom <= plate.high) == (True,) * 4, (
            plate.name,
            left,
            top,
            right,
            bottom,
        )


def test_words_on_a_plate_are_few_large_and_on_the_sheet(every: list[Plate]) -> None:
    for plate in every:
        for text in tree(plate.svg).iter(f"{SVG}text"):
            size = float(text.get("font-size", "0"))
            # 160 pixels wide, 6.5 units are more than 10 pixels.
            assert size >= 6.5
            wide = 0.53 * size * len(text.text or "")
            x = float(text.get("x", "0"))
            left = {"start": x, "middle": x - wide / 2, "end": x - wide}[text.get("text-anchor", "start")]
            assert left >= 0, plate.name
            assert left + wide <= 100, (plate.name, text.text)


def test_plates_are_small(every: list[Plate], taxa: list[Plate]) -> None:
    sizes = sorted(len(plate.svg.encode()) for plate in every)
    assert sizes[len(sizes) // 2] < 5_000
    assert np.mean(np.array(sizes) < 6_000) > 0.8
    assert max(len(plate.svg.encode()) for plate in [*every, *taxa]) < 15_000


def test_the_same_plate_has_the_same_bytes(flora: Flora, every: list[Plate]) -> None:
    assert [plate.svg for plate in draw_all(flora)] == [plate.svg for plate in every]


INKS = {"#1d1a16", "#e6e0cf", "#faf7f0", "none"}


def test_one_ink_one_wash_and_round_ends(every: list[Plate], taxa: list[Plate]) -> None:
    for plate in [*every, *taxa]:
        assert set(re.findall(r'(?:fill|stroke)="([^"]+)"', plate.svg)) <= INKS
        assert 'stroke-linecap="round"' in plate.svg
        weights = {float(w) for w in re.findall(r'stroke-width="([\d.]+)"', plate.svg)}
        assert min(weights) >= 0.5


def test_scale_bars_are_as_long_as_they_say(every: list[Plate], taxa: list[Plate]) -> None:
    in_mm = {"mm": 1.0, "in": 25.4, "ft": 304.8}
    told = re.compile(r"about ([\d.]+|¼|½) (mm|in|ft)")
    seen = set()
    for plate in [*every, *taxa]:
        if plate.scale_mm is None:
            continue
        bar = next(iter(lines(next(datas(plate.svg, "scale")))))
        found = told.search(plate.alt.rpartition("scale bar")[2])
        assert found, plate.alt
        number, unit = found.groups()
        seen.add(unit)
        mm = {"¼": 0.25, "½": 0.5}.get(number) or float(number)
        drawn = abs(bar[1] - bar[0]) * plate.scale_mm / 100
        assert drawn == pytest.approx(mm * in_mm[unit], rel=0.01), plate.name
        assert 10 < abs(bar[1] - bar[0]) < 60
    assert seen == {"mm", "in", "ft"}


def test_metric_plates_have_metric_bars(flora: Flora) -> None:
    plate = draw(flora, "leaf_outline", "ovate", words=Words(units="metric"))
    assert "about 2 cm" in plate.svg
    assert " in<" not in plate.svg


def black_and_white(plates: list[Plate], folder: Path, wide: int = 160) -> dict[str, np.ndarray]:
    """Each drawing as a copier would give it: `wide` pixels across, ink or no ink, without the words below."""
    pages = []
    for plate in plates:
        (folder / f"{plate.name}.svg").write_text(plate.svg, encoding="utf-8")
        pages.append(f'#page(image("{plate.name}.svg", width: {wide}pt))')
    high = wide * plates[0].high / plates[0].wide
    (folder / "all.typ").write_text(
        f"#set page(width: {wide}pt, height: {high}pt, margin: 0pt)\n" + "\n".join(pages), encoding="utf-8"
    )
    made = typst.compile(folder / "all.typ", format="png", ppi=72)
    pngs = made if isinstance(made, list) else [made]
    assert len(pngs) == len(plates)
    drawn = int(wide * 0.97)
    return {
        plate.name: np.asarray(Image.open(io.BytesIO(png)).convert("L"))[:drawn] < 128
        for plate, png in zip(plates, pngs, strict=True)
    }


def test_states_of_a_character_look_unlike_at_phone_size_in_black_and_white(
    flora: Flora, every: list[Plate], tmp_path: Path
) -> None:
    ink = black_and_white(every, tmp_path)
    least: dict[str, float] = {}
    for character in flora.characters.values():
        for one, other in combinations(states(character), 2):
            a, b = ink[f"{character.name}-{one}"], ink[f"{character.name}-{other}"]
            # Pixels that differ, over those inked in either: 0 alike, 1 nothing in common.
            least[f"{character.name}: {one}, {other}"] = (a ^ b).sum() / (a | b).sum()
    alike = {pair: round(float(share), 3) for pair, share in least.items() if share < 0.06}
    assert alike == {}, alike


def test_a_plate_is_not_unlike_itself(flora: Flora, tmp_path: Path) -> None:
    plate = draw(flora, "leaf_outline", "ovate")
    (tmp_path / "again").mkdir()
    first, second = (black_and_white([plate], folder)[plate.name] for folder in (tmp_path, tmp_path / "again"))
    assert (first ^ second).sum() == 0
    assert 0.02 < first.mean() < 0.3


def test_levels_are_the_least_the_middle_and_the_greatest_mean_of_the_taxa(flora: Flora) -> None:
    low, usual, high = levels_of(flora, "petiole_blade_ratio_lower")
    assert low == 0.52
    assert high == flora.measures["AMAPA", "petiole_blade_ratio_lower", "vegetative"].mean == 1.28
    assert low < usual < high


def test_taxa_are_drawn_in_every_part_that_the_tables_tell(flora: Flora) -> None:
    for code in ("AMAPA", "AMATU", "AMARE", "AMACH", "AMAPO", "AMASP"):
        assert parts_of(flora, code) == PARTS
    assert "plant" not in parts_of(flora, "CHEAL")
    assert "seedling" in parts_of(flora, "CHEAL")
    plate = draw_taxon(flora, "amapa")
    assert plate.name == "AMAPA-plant"
    assert "Palmer amaranth" in plate.title
    assert "one very long spike" in plate.alt


@pytest.mark.parametrize(
    ("ask", "said"),
    [
        (lambda f: draw(f, "leaf_outlin", "ovate"), r"no character 'leaf_outlin' .*Did you mean leaf_outline"),
        (lambda f: draw(f, "leaf_outline", "round"), r"leaf_outline=round .*ovate, rhombic"),
        (lambda f: draw(f, "leaf_outline"), r"no state of leaf_outline"),
        (lambda f: draw(f, "blade_length", "huge"), r"low, usual, high"),
        (lambda f: draw_taxon(f, "AMAPA", "root"), r"part 'root'.*plant, leaf"),
        (lambda f: draw_taxon(f, "AMAPX"), r"no taxon 'AMAPX'"),
        (lambda f: draw_taxon(f, "CHEAL", "plant"), r"no drawing of the plant of CHEAL"),
    ],
)
def test_what_cannot_be_drawn_is_refused_with_the_next_step(flora: Flora, ask, said: str) -> None:
    with pytest.raises(Refused, match=said):
        ask(flora)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('figure = "chevron"', 'figure = "chevrons"', r"'chevrons' \(plates.toml, \[character.watermark\]\).*chevron"),
        ("{ mark = true }", "{ marks = true }", r"'marks'.*Did you mean mark"),
        ("{ mark = true }", '{ mark = "yes" }', r"mark = 'yes'.*is a bool"),
        ("{ hairs = 12 }", "{ hairs = true }", r"hairs = True.*is a number"),
        ("states.present = { mark", "states.presnt = { mark", r"'presnt' in \[character.watermark\].*present"),
        ("[character.watermark]", "[character.watermarks]", r"'watermarks'.*Did you mean watermark"),
        ('takes = "stalk_mm"', "", r"setting that takes its value"),
        ('takes = "stalk_mm"', 'takes = "stalk_mm"\nbasis = "measured"', r"basis 'measured'.*source"),
        ('takes = "stalk_mm"', 'takes = "stalk_mm"\nsources = ["NOBODY99"]', r"'NOBODY99'"),
        ('habit = "growth_habit"', 'habit = "growth_habbit"', r"'growth_habbit'.*growth_habit"),
        ("[plant]", "[plant", r"plates.toml"),
    ],
)
def test_a_fault_in_the_table_is_named(tmp_path: Path, old: str, new: str, said: str) -> None:
    folder = shutil.copytree(PIGWEEDS, tmp_path / "pigweeds")
    text = (folder / "plates.toml").read_text(encoding="utf-8")
    assert old in text
    (folder / "plates.toml").write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(Refused, match=said):
        list(draw_all(load("pigweeds", folder=folder)))


def test_another_weed_group_is_drawn_from_tables_alone(tmp_path: Path) -> None:
    folder = shutil.copytree(FOXTAILS, tmp_path / "foxtails")
    shutil.copy(Path(__file__).parent / "foxtail_plates.toml", folder / "plates.toml")
    group = load("foxtails", folder=folder)
    table = tomllib.loads((folder / "plates.toml").read_text(encoding="utf-8"))["character"]
    made = [draw(group, character, state) for character, state in names(group) if character in table]
    assert len(made) == 2 + 3 + 3
    assert [plate.value for plate in made if plate.character == "head_length"] == [8, 8, 15]
    assert all(tree(plate.svg) is not None for plate in made)


def test_a_group_without_plates_says_so(tmp_path: Path) -> None:
    group = load("foxtails", folder=FOXTAILS)
    character, state = next(iter(names(group)))
    with pytest.raises(Refused, match=r"plates.toml of foxtails"):
        draw(group, character, state)


def test_a_bare_plate_has_the_drawing_and_no_writing(every: list[Plate]) -> None:
    for plate in every:
        root = tree(bare(plate.svg))
        assert not list(root.iter(f"{SVG}text"))
        assert "scale" not in {path.get("data-part") for path in root.iter(f"{SVG}path")}
        whole = [d for d in datas(plate.svg) if d not in set(datas(plate.svg, "scale"))]
        assert list(datas(bare(plate.svg))) == whole
