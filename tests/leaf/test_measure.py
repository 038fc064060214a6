"""What is measured, against shapes of known lengths, drawn photos of exact truth, and points set by hand."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageDraw

from leaf import another_hand
from leaf.drawn import BACKGROUNDS, STYLES, draw
from tepal.leaf import LeafMeasure, measure, measure_all
from tepal.leaf._doubt import ratio_sd

ROOT = Path(__file__).resolve().parents[2]
REAL = ROOT.parent / "shared" / "data" / "leaves"


def silhouette(petiole: float, blade: float, half: float, *, ink: int = 0, paper: int = 255) -> Image.Image:
    """An ellipse on a bar, upright on paper; the blade's edge leaves the bar 12 px wide at `petiole`."""
    image = Image.new("L", (700, 1000), paper)
    pen = ImageDraw.Draw(image)
    foot = 950
    pen.rectangle((344, foot - petiole - 30, 355, foot), fill=ink)
    pen.ellipse((349.5 - half, foot - petiole - blade, 349.5 + half, foot - petiole), fill=ink)
    return image


@pytest.mark.parametrize(("petiole", "blade", "half"), [(150, 500, 150), (320, 420, 130), (400, 260, 90)])
@pytest.mark.parametrize(("ink", "paper"), [(0, 255), (210, 40)])
def test_a_silhouette_has_the_lengths_that_it_was_drawn_with(
    petiole: int, blade: int, half: int, ink: int, paper: int
) -> None:
    found = measure(silhouette(petiole, blade, half, ink=ink, paper=paper), flat=True)
    assert found.refused is None
    assert found.petiole_px == pytest.approx(petiole, abs=0.015 * blade + 2)
    assert found.blade_px == pytest.approx(blade, abs=0.015 * blade + 2)
    assert found.width_px == pytest.approx(2 * half, abs=3)
    assert found.tip == pytest.approx((349.5, 950 - petiole - blade), abs=6)
    assert abs(found.petiole_blade_ratio - petiole / blade) < 2 * found.ratio_sd
    assert found.widest_at == pytest.approx(0.5, abs=0.03)


def test_turning_the_photo_turns_the_points_and_leaves_the_lengths() -> None:
    image, _ = draw(np.random.default_rng(4), style="shaded", background="white_paper", shape="ovate", ratio=0.9)
    plain = measure(image)
    assert plain.refused is None
    h, w = image.shape[:2]
    turned = measure(np.rot90(image))
    assert turned.petiole_blade_ratio == pytest.approx(plain.petiole_blade_ratio, abs=0.02)
    for name, (x, y) in plain.points.items():
        assert turned.points[name] == pytest.approx((y, w - 1 - x), abs=0.012 * max(h, w))


def _saved(image: np.ndarray, kind: str = "JPEG", **more: Any) -> bytes:
    out = io.BytesIO()
    Image.fromarray(image).save(out, kind, **more)
    return out.getvalue()


@pytest.mark.parametrize("tag", [3, 6])
def test_the_cameras_turn_is_respected_and_points_are_those_of_the_upright_photo(tag: int) -> None:
    image, _ = draw(np.random.default_rng(5), style="textured", background="grey_card", shape="elliptic", ratio=0.7)
    upright = measure(image)
    stored = np.rot90(image, {1: 0, 3: 2, 6: 1, 8: 3}[tag])
    exif = Image.Exif()
    exif[0x0112] = tag
    seen = measure(_saved(np.ascontiguousarray(stored), quality=95, exif=exif))
    for name, point in upright.points.items():
        assert seen.points[name] == pytest.approx(point, abs=0.01 * max(image.shape))


def test_a_large_jpeg_is_told_in_its_own_pixels() -> None:
    image, truth = draw(np.random.default_rng(6), style="flat", background="white_paper", shape="ovate", ratio=1.0)
    big = Image.fromarray(image).resize((image.shape[1] * 4, image.shape[0] * 4))
    out = io.BytesIO()
    big.save(out, "JPEG", quality=90)
    found = measure(out.getvalue())
    assert found.junction == pytest.approx(tuple(4 * v + 1.5 for v in truth.junction), abs=0.02 * max(big.size))
    assert found.blade_px == pytest.approx(4 * truth.blade_px, rel=0.05)


def test_a_notched_tip_ends_at_the_bottom_of_its_notch() -> None:
    # An ellipse with a wedge cut out: 24 px deep and 40 px wide, its bottom 13 px beside the middle.
    image = silhouette(300, 500, 170)
    ImageDraw.Draw(image).polygon([(362, 950 - 800 + 24), (340, 130), (384, 130)], fill=255)
    found = measure(image, flat=True)
    assert found.tip == pytest.approx((362, 174), abs=5)
    assert found.blade_px == pytest.approx(500 - 24, abs=9)
    assert found.tip_notch == pytest.approx(24 / 476, abs=0.012)
    assert measure(silhouette(300, 500, 170), flat=True).tip_notch < 0.004


def test_the_corner_of_a_blunt_tip_is_not_its_tip() -> None:
    # A bar that ends square has its tip in the middle of that end; the corners are farther off.
    image = Image.new("L", (700, 1000), 255)
    pen = ImageDraw.Draw(image)
    pen.rectangle((344, 560, 355, 900), fill=0)
    pen.polygon([(349, 600), (230, 420), (230, 200), (470, 200), (470, 420)], fill=0)
    found = measure(image, flat=True)
    assert found.tip == pytest.approx((349.5, 200), abs=10)
    assert found.blade_px == pytest.approx(400, abs=10)


def test_a_leaf_far_off_in_a_large_photo_is_looked_at_from_nearer() -> None:
    small = silhouette(100, 160, 45).crop((250, 640, 450, 1000))
    image = Image.new("L", (2400, 1800), 255)
    # Enlarged, so that its edges are a photo's.
    image.paste(small.resize((300, 540)), (1500, 900))
    found = measure(image, flat=True)
    assert found.petiole_px == pytest.approx(150, abs=4)
    assert found.blade_px == pytest.approx(240, abs=4)
    # Within the bar that the petiole is, 18 px wide there.
    assert found.petiole_base == pytest.approx((1500 + 1.5 * 99.5, 900 + 1.5 * 310.5), abs=9)


def _tarp(glint: tuple[int, int, int, int]) -> np.ndarray:
    """A green leaf on blue cloth that shines in one place: itself and white light on top."""
    rng = np.random.default_rng(3)
    light = np.tile(np.array([0.03, 0.1, 0.34]), (600, 800, 1)) * (1 + 0.05 * rng.normal(size=(600, 800, 1)))
    x0, y0, x1, y1 = glint
    light[y0:y1, x0:x1] += 0.12
    image = Image.fromarray((np.clip(light, 0, 1) ** (1 / 2.2) * 255).astype(np.uint8))
    pen = ImageDraw.Draw(image)
    pen.rectangle((110, 295, 420, 304), fill=(150, 170, 90))
    pen.ellipse((400, 210, 700, 390), fill=(80, 125, 50))
    return np.asarray(image)


@pytest.mark.parametrize("glint", [(200, 280, 260, 330), (660, 330, 740, 420), (395, 180, 470, 240)])
def test_shining_cloth_beside_a_leaf_is_no_part_of_it(glint: tuple[int, int, int, int]) -> None:
    plain, shining = measure(_tarp((0, 0, 0, 0))), measure(_tarp(glint))
    assert plain.refused is None
    assert shining.petiole_blade_ratio == pytest.approx(plain.petiole_blade_ratio, abs=0.03)
    for name, point in plain.points.items():
        assert shining.points[name] == pytest.approx(point, abs=6)


@pytest.mark.parametrize("number", [8, 13, 44], ids=["a seam under the petiole", "over the rim", "beside the rim"])
def test_a_hand_that_ends_in_the_picture_and_its_seams_are_no_part_of_a_leaf(number: int) -> None:
    raw, truth = another_hand.draw(np.random.default_rng([4411, number, 0, 3]), background="palm")
    found = measure(raw)
    assert found.refused is None
    assert found.petiole_blade_ratio == pytest.approx(truth.ratio, abs=0.05)


def _scores(seed: int, each: int, hand: str = "drawn") -> list[tuple[float, float, LeafMeasure]]:
    found = []
    for k in range(each):
        for i, style in enumerate(STYLES if hand == "drawn" else ("",)):
            for j, background in enumerate(BACKGROUNDS):
                rng = np.random.default_rng([seed, k, i, j])
                if hand == "drawn":
                    image, truth = draw(rng, style=style, background=background)
                    found.append((truth.ratio, truth.blade_px, measure(image)))
                else:
                    raw, truth = another_hand.draw(rng, background=background, megapixels=0.7)
                    found.append((truth.ratio, truth.blade_px, measure(raw)))
    return found


@pytest.mark.parametrize(
    ("number", "background", "ratio"), [((880012, 20), "white_paper", 1.7), ((771002, 39), "blue_tarp", 1.78)]
)
def test_a_small_leaf_on_white_paper_and_a_slim_one_on_a_long_petiole_are_leaves(
    number: tuple[int, int], background: str, ratio: float
) -> None:
    """All the colour of the first picture is on a two-hundredth of it; the second leaf is 12 times as long as wide."""
    raw, truth = another_hand.draw(np.random.default_rng(list(number)), background=background, ratio=ratio)
    found = measure(raw)
    assert found.refused is None
    assert abs(found.petiole_blade_ratio - truth.ratio) < 2 * found.ratio_sd


@pytest.mark.slow
def test_drawn_photos_are_measured_on_every_ground() -> None:
    found = _scores(20261, 1)
    fine = [m.refused is None and abs(m.petiole_blade_ratio - ratio) < 0.06 for ratio, _, m in found]
    assert np.mean(fine) >= 0.75


@pytest.mark.parametrize(("seed", "style"), [((772, 1, 2, 4), "flat"), ((774, 1, 2, 4), "flat")])
def test_cloth_that_is_bluer_than_green_is_no_green_ground(seed: tuple[int, ...], style: str) -> None:
    # A tarp with a cast towards cyan, which has so little red that by green over red and blue it is "green".
    image, truth = draw(np.random.default_rng(list(seed)), style=style, background="blue_tarp")
    found = measure(image)
    assert found.refused is None
    assert found.petiole_blade_ratio == pytest.approx(truth.ratio, abs=0.05)


@pytest.mark.slow
def test_drawn_photos_by_two_hands_have_true_ratios_and_true_errors() -> None:
    found = _scores(20262, 1) + _scores(20262, 6, "another hand")
    error = np.array([abs(m.petiole_blade_ratio - ratio) for ratio, _, m in found])
    sd = np.array([m.ratio_sd for _, _, m in found])
    told = np.isfinite(error)
    assert np.mean(error < 0.05) >= 0.75
    assert np.mean(~told) <= 0.07
    assert np.median(error[told]) <= 0.025
    # At least 0.92 is asked for; of 45 photos 0.853 come of that once in twenty times (bench/leaf_scores.py has 250).
    assert np.mean(error[told] < 2 * sd[told]) >= 0.92 - 1.645 * np.sqrt(0.92 * 0.08 / told.sum())
    assert np.median(sd[told]) <= 0.06


@pytest.mark.slow
@pytest.mark.skipif(not (REAL / "truth.csv").exists(), reason="../shared/data/leaves is not here")
def test_real_apple_leaves_are_measured_as_by_hand() -> None:
    rows = [r for r in csv.DictReader((REAL / "truth.csv").open()) if r["set"] == "plantvillage_apple"]
    assert len(rows) == 8
    error = [abs(measure(REAL / r["file"]).petiole_blade_ratio - float(r["petiole_blade_ratio"])) for r in rows]
    assert sum(e < 0.05 for e in error) >= 7


@pytest.mark.slow
@pytest.mark.skipif(not (REAL / "truth.csv").exists(), reason="../shared/data/leaves is not here")
def test_scanned_leaves_that_are_measured_have_the_lengths_set_by_hand() -> None:
    rows = [r for r in csv.DictReader((REAL / "truth.csv").open()) if r["set"] == "leafarea"]
    off = []
    for name in sorted({r["file"] for r in rows}):
        for found in measure_all(REAL / name, flat=True):
            if found.refused is None:
                assert found.junction is not None
                near = min(rows, key=lambda r: _away(r, found) if r["file"] == name else 1e9)
                off.append(abs(found.blade_px / float(near["blade_length_px"]) - 1))
    assert len(off) >= 2
    assert np.median(off) < 0.015


def _away(row: dict[str, str], found: LeafMeasure) -> float:
    assert found.junction is not None
    return float(
        np.hypot(float(row["blade_base_x"]) - found.junction[0], float(row["blade_base_y"]) - found.junction[1])
    )


FAULTS = ("petiole_cut", "overlapping", "none", "grass", "blurred", "stem_only", "no_petiole")


@pytest.mark.parametrize("fault", FAULTS)
def test_what_cannot_be_measured_is_refused_with_a_remedy(fault: str) -> None:
    k = FAULTS.index(fault)
    ground = ("white_paper", "brown_clipboard", "blue_tarp", "grey_card")[k % 4]
    image, _ = draw(
        np.random.default_rng([77, k]), style=STYLES[k % 3], background=ground, size=(640, 480), fault=fault
    )
    answer = measure(image)
    assert answer.refused is not None
    assert answer.points == {}
    assert np.isnan(answer.petiole_blade_ratio)
    assert len(answer.refused.split(". ")) >= 2


def test_the_largest_whole_leaf_is_taken_and_all_are_told_when_asked() -> None:
    image = Image.new("L", (1400, 1000), 255)
    image.paste(silhouette(200, 420, 130), (0, 0))
    image.paste(silhouette(150, 300, 100), (700, 0))
    one, both = measure(image), measure_all(image)
    assert one.blade_px == pytest.approx(420, abs=8)
    assert sorted(round(m.blade_px, -1) for m in both) == [300, 420]
    assert both[0].leaves_seen == 2


def test_the_standard_error_is_made_of_junction_ends_and_tilt() -> None:
    only_junction = ratio_sd(300, 300, 6, 0, long_side=1000, flat=True)
    assert only_junction == pytest.approx(2 * 6 / 300)
    only_ends = ratio_sd(300, 300, 0, 3, long_side=1000, flat=True)
    assert only_ends == pytest.approx(np.hypot(3, 3) / 300)
    tilted = ratio_sd(300, 300, 0, 0, long_side=1000, flat=False)
    assert 0.005 < tilted < 0.04
    assert ratio_sd(300, 300, 6, 3, long_side=1000, flat=False) == pytest.approx(
        np.sqrt(only_junction**2 + only_ends**2 + tilted**2)
    )


def test_the_tilt_that_the_error_allows_for_is_that_of_a_pinhole_camera() -> None:
    # The ratio of two halves of a rod, seen tilted by 2.5 degrees about an axis across it, against the closed form.
    focal, half, tilt = 1000.0, 250.0, np.radians(2.5)
    seen = [u * np.cos(tilt) / (1 + u * np.sin(tilt) / focal) for u in (-half, 0.0, half)]
    shift = abs((seen[1] - seen[0]) / (seen[2] - seen[1]) - 1)
    sd = ratio_sd(half, half, 0, 0, long_side=1000, flat=False)
    assert shift / np.sqrt(2) == pytest.approx(sd, rel=0.2)
