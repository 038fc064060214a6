"""The parts: change-point, outline, sheet, looks, hostile files; each against something outside the room."""

from __future__ import annotations

import io
import subprocess
import sys
import tracemalloc
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from skimage.transform import ProjectiveTransform

from _require import program, require
from leaf.drawn import draw
from tepal.flora import load
from tepal.leaf import LeafMeasure, card_pdf, looks, measure
from tepal.leaf import draw as overlay
from tepal.leaf._along import Axis
from tepal.leaf._card import CODE, HEIGHT_MM, RINGS, WIDTH_MM, find_sheet, homography
from tepal.leaf._ground import coarse, features
from tepal.leaf._junction import change_point, locate
from tepal.leaf._outline import families, outline_shares
from tepal.leaf._rim import behind
from tepal.plant import identify
from tepal.tables import Refused


@settings(max_examples=25, deadline=None)
@given(st.floats(60, 140), st.sampled_from([0.5, 0.7, 0.85, 1.0, 1.25]), st.floats(4, 20), st.integers(0, 10**6))
def test_the_change_point_of_a_known_profile_is_found_within_its_error(
    at: float, power: float, stalk: float, seed: int
) -> None:
    s = np.arange(0.0, 200.0)
    rng = np.random.default_rng(seed)
    width = stalk + 3.0 * np.clip(s - at, 0, None) ** power + rng.normal(0, 0.5, len(s))
    found, sd, _ = change_point(s, width, np.arange(30.0, 180.0), np.full(len(s), 0.5), flares=(0.0, 10.0))
    assert abs(found - at) < max(5 * sd, 4.0)


def _axis_of(half: np.ndarray, length_width: float) -> tuple[Axis, float]:
    """A straight leaf: 100 px of petiole, 400 px of blade with this half-width (against its greatest)."""
    blade, petiole = 400, 100
    along = np.arange(petiole + blade + 1.0)
    top = blade / length_width / 2
    side = np.interp((along - petiole) / blade, np.linspace(0, 1, len(half)), half * top)
    side = np.where(along < petiole, 4.0, side)
    return Axis(np.column_stack([along, np.zeros_like(along)]), along, side, side), float(petiole)


_T = np.linspace(0, 1, 201)


@settings(max_examples=60, deadline=None)
@given(
    st.integers(8, 150),
    st.sampled_from(["even", "any", "widening", "wide at its end", "none"]),
    st.booleans(),
    st.integers(0, 10**6),
)
def test_a_junction_is_told_of_whatever_was_followed(length: int, kind: str, coloured: bool, seed: int) -> None:
    """A stem, a crease, a shadow: what is no leaf is followed too before it is refused, and must not break."""
    rng = np.random.default_rng(seed)
    width = {
        "even": np.full(length, rng.uniform(0, 9)),
        "any": np.abs(rng.normal(5, 4, length)),
        "widening": np.linspace(rng.uniform(0, 9), rng.uniform(0, 60), length),
        "wide at its end": np.where(np.arange(length) < 0.94 * length, 3.0, 40.0),
        "none": np.zeros(length),
    }[kind]
    s = np.arange(float(length))
    axis = Axis(np.column_stack([s + 5, np.full(length, 30.0)]), s, width / 2, width / 2)
    found = locate(axis, rng.normal(0, 0.1, (60, length + 12, 3)).astype(np.float32) if coloured else None)
    assert np.isfinite(found.at)
    assert found.sd > 0


@pytest.mark.parametrize(
    ("name", "half", "slim"),
    [
        ("ovate", _T**0.55 * (1 - _T) ** 1.1, 1.7),
        ("lanceolate", _T**0.8 * (1 - _T) ** 1.2, 4.0),
        ("linear", np.clip(np.minimum(_T, 1 - _T) * 8, 0, 1), 9.0),
        ("triangular", np.minimum(_T / 0.08, (1 - _T) / 0.92), 1.5),
        ("rhombic", np.minimum(_T / 0.45, (1 - _T) / 0.55), 1.6),
        ("obovate_spatulate", _T**1.3 * (1 - _T) ** 0.5, 2.0),
    ],
)
def test_shapes_drawn_by_other_formulas_get_their_botanical_names(name: str, half: np.ndarray, slim: float) -> None:
    shares = outline_shares(*_axis_of(half / half.max(), slim))
    assert next(iter(shares)) == name
    assert sum(shares.values()) == pytest.approx(1)


def test_every_outline_is_a_state_of_the_flora() -> None:
    assert set(families()) == set(load().characters["leaf_outline"].states)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10**6))
def test_the_homography_is_that_of_another_library(seed: int) -> None:
    rng = np.random.default_rng(seed)
    target = RINGS * 3 + rng.normal(0, 25, RINGS.shape)
    ours = homography(RINGS, target)
    theirs = ProjectiveTransform.from_estimate(RINGS, target)
    point = rng.uniform(0, 150, (5, 2))
    seen = np.column_stack([point, np.ones(5)]) @ ours.T
    assert seen[:, :2] / seen[:, 2:] == pytest.approx(theirs(point), abs=1e-5)


def _printed(tmp_path: Path) -> Image.Image:
    pdf = tmp_path / "sheet.pdf"
    pdf.write_bytes(card_pdf())
    try:
        subprocess.run(["pdftoppm", "-r", "200", "-png", str(pdf), str(tmp_path / "sheet")], check=True, timeout=60)
    except FileNotFoundError:
        pytest.skip("not on this machine: pdftoppm")
    return Image.open(next(tmp_path.glob("sheet*.png"))).convert("RGB")


def test_the_sheet_gives_millimetres_and_takes_the_tilt_out(tmp_path: Path) -> None:
    from PIL import ImageDraw

    page = _printed(tmp_path)
    per_mm = 200 / 25.4
    left, top = (215.9 - WIDTH_MM) / 2 * per_mm, 36.0 * per_mm
    pen = ImageDraw.Draw(page)
    x = left + 80 * per_mm
    y0 = top + 180 * per_mm
    pen.rectangle((x - 1.2 * per_mm, y0 - 62 * per_mm, x + 1.2 * per_mm, y0), fill=(120, 150, 70))
    pen.ellipse((x - 25 * per_mm, y0 - 140 * per_mm, x + 25 * per_mm, y0 - 60 * per_mm), fill=(60, 110, 50))
    # A camera held 12 degrees aslant along the leaf.
    tilt, focal = np.radians(12), 1.1 * page.height
    middle = np.array([page.width, page.height]) / 2

    def seen(points: np.ndarray) -> np.ndarray:
        u, v = (points - middle).T
        depth = 1 + v * np.sin(tilt) / focal
        return np.column_stack([u / depth, v * np.cos(tilt) / depth]) * 0.9 + middle

    square = np.array([[0, 0], [page.width, 0], [page.width, page.height], [0, page.height]], dtype=float)
    back = homography(seen(square), square)
    photo = page.transform(
        page.size,
        Image.Transform.PERSPECTIVE,
        tuple((back / back[2, 2]).ravel()[:8]),
        Image.Resampling.BICUBIC,
        fillcolor=(120, 120, 120),
    )
    found = measure(photo)
    assert found.refused is None
    assert found.scale_from == "sheet"
    assert found.mm_per_px is not None
    total = (found.petiole_px + found.blade_px) * found.mm_per_px
    assert total == pytest.approx(140, rel=0.012)
    assert found.petiole_blade_ratio == pytest.approx(60 / 80, abs=0.025)
    # Without the rings, the same tilt goes uncorrected.
    bare = page.copy()
    ImageDraw.Draw(bare).rectangle((0, 0, page.width, top + 20 * per_mm), fill=(255, 255, 255))
    assert find_sheet(np.asarray(bare.resize((page.width // 2, page.height // 2)))) is None
    slant = measure(
        bare.transform(
            page.size,
            Image.Transform.PERSPECTIVE,
            tuple((back / back[2, 2]).ravel()[:8]),
            Image.Resampling.BICUBIC,
            fillcolor=(255, 255, 255),
        )
    )
    assert abs(slant.petiole_blade_ratio - 0.75) > abs(found.petiole_blade_ratio - 0.75)
    assert slant.ratio_sd > found.ratio_sd


def test_code_and_rings_stand_where_the_sheet_says() -> None:
    assert CODE.mean(axis=0) == pytest.approx([WIDTH_MM / 2, 0])
    assert RINGS[2] == pytest.approx([WIDTH_MM, HEIGHT_MM])


# ------------------------------------------------------------------ looks


def _leaf(**more: Any) -> LeafMeasure:
    given_: dict[str, Any] = {
        "petiole_blade_ratio": 1.3, "ratio_sd": 0.05, "length_width": 2.0, "widest_at": 0.4, "tip_notch": 0.0,
        "outline": {"ovate": 0.7, "rhombic": 0.28, "linear": 0.02}, "petiole_px": 650.0, "blade_px": 500.0,
        "width_px": 250.0,
    }  # fmt: skip
    return LeafMeasure(**{**given_, **more})


def test_a_leaf_must_be_named() -> None:
    with pytest.raises(Refused, match="lower"):
        looks(_leaf(), None)
    with pytest.raises(Refused):
        looks(_leaf(), "top")


@pytest.mark.parametrize("which", ["middle", "upper"])
def test_another_leafs_ratio_is_never_a_lower_leafs(which: str) -> None:
    assert not any("lower" in name for name in looks(_leaf(), which))


def test_an_unsure_ratio_is_told_as_chances_and_plant_takes_every_look() -> None:
    sure, unsure = looks(_leaf(), "lower"), looks(_leaf(ratio_sd=0.3), "lower")
    assert sure["petiole_blade_ratio_lower"] == 1.3
    assert "petiole_blade_ratio_lower" not in unsure
    assert set(unsure["fold_test_lower_leaf"]) == {"longer", "about_equal", "shorter"}  # type: ignore[call-overload]
    for which in ("lower", "middle", "upper"):
        for leaf in (_leaf(), _leaf(ratio_sd=0.3, mm_per_px=0.1)):
            identify(looks(leaf, which), stage="vegetative")
    identify(looks(_leaf(), "seedling"), stage="seedling_2-4_leaf")
    palmer = {
        **dict(zip((c := identify(sure, stage="vegetative", region="SP")).taxa, c.posterior.tolist(), strict=True))
    }
    short = identify(looks(_leaf(petiole_blade_ratio=0.35, ratio_sd=0.02), "lower"), stage="vegetative", region="SP")
    assert palmer["AMAPA"] > dict(zip(short.taxa, short.posterior.tolist(), strict=True))["AMAPA"]


def test_a_refused_leaf_gives_no_looks() -> None:
    with pytest.raises(Refused, match="Go nearer"):
        looks(LeafMeasure(refused="The leaf is too small. Go nearer.", reason="too_small"), "lower")


# ------------------------------------------------------------------ files of all kinds


def _bytes(image: Image.Image, kind: str, **more: Any) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **more)
    return out.getvalue()


@pytest.fixture(scope="module")
def picture() -> Image.Image:
    return Image.fromarray(
        draw(
            np.random.default_rng(8), style="shaded", background="grey_card", shape="ovate", ratio=0.8, size=(800, 600)
        )[0]
    )


@pytest.mark.parametrize("kind", ["CMYK", "16-bit", "animated", "PNG", "alpha", "palette"])
def test_pictures_of_every_make_are_measured_alike(picture: Image.Image, kind: str) -> None:
    plain = measure(np.asarray(picture))
    if kind == "CMYK":
        raw = _bytes(picture.convert("CMYK"), "JPEG", quality=95)
    elif kind == "16-bit":
        found = measure(np.asarray(picture).astype(np.uint16) * 257)
        assert found.petiole_blade_ratio == pytest.approx(plain.petiole_blade_ratio, abs=0.001)
        return
    elif kind == "animated":
        raw = _bytes(picture, "WEBP", save_all=True, append_images=[Image.new("RGB", picture.size)], quality=95)
    elif kind == "alpha":
        raw = _bytes(picture.convert("RGBA"), "PNG")
    elif kind == "palette":
        raw = _bytes(picture.quantize(200), "PNG")
    else:
        raw = _bytes(picture, "PNG")
    found = measure(raw)
    assert found.petiole_blade_ratio == pytest.approx(plain.petiole_blade_ratio, abs=0.03)


def test_a_heic_photo_is_measured_as_its_jpeg(picture: Image.Image, tmp_path: Path) -> None:
    encoder = require("heif-enc", program("heif-enc"))
    picture.save(tmp_path / "a.png")
    subprocess.run(
        [encoder, "-q", "90", str(tmp_path / "a.png"), "-o", str(tmp_path / "a.heic")], check=True, timeout=60
    )
    plain, found = measure(np.asarray(picture)), measure(tmp_path / "a.heic")
    assert found.petiole_blade_ratio == pytest.approx(plain.petiole_blade_ratio, abs=0.03)


def test_a_heic_whose_decoder_ends_is_refused_and_the_next_is_measured(
    picture: Image.Image, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Some broken files bring the decoder's whole process down; it is not ours. A stand-in kills itself here."""
    encoder = require("heif-enc", program("heif-enc"))
    picture.save(tmp_path / "a.png")
    subprocess.run([encoder, str(tmp_path / "a.png"), "-o", str(tmp_path / "a.heic")], check=True, timeout=60)
    raw = (tmp_path / "a.heic").read_bytes()
    dying = tmp_path / "python"
    dying.write_text("#!/bin/sh\nkill -SEGV $$\n")
    dying.chmod(0o755)
    with monkeypatch.context() as patched:
        patched.setattr("tepal.leaf._heif.sys.executable", str(dying))
        with pytest.raises(Refused, match="cut short or broken"):
            measure(raw)
    assert measure(raw).refused is None
    with pytest.raises(Refused, match="cut short or broken"):
        measure(raw[: len(raw) // 2])


@pytest.mark.parametrize("mode", ["L", "I;16"])
def test_a_picture_without_colour_is_measured_or_refused(picture: Image.Image, mode: str) -> None:
    grey = picture.convert("L")
    image = grey if mode == "L" else Image.fromarray(np.asarray(grey).astype(np.uint16) * 257)
    found = measure(_bytes(image, "PNG"))
    assert found.refused is not None or abs(found.petiole_blade_ratio - 0.8) < 0.1


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 10**6), st.sampled_from(["JPEG", "PNG"]))
def test_a_file_that_was_cut_or_garbled_is_refused_or_read_and_never_breaks(seed: int, kind: str) -> None:
    rng = np.random.default_rng(seed)
    image = Image.fromarray(rng.integers(0, 255, (130, 140, 3), dtype=np.uint8))
    raw = bytearray(_bytes(image, kind))
    if seed % 2:
        raw = raw[: int(rng.integers(0, len(raw)))]
    else:
        for at in rng.integers(0, len(raw), 12):
            raw[at] = int(rng.integers(256))
    try:
        measure(bytes(raw))
    except Refused as refusal:
        assert refusal.step


def _png_head(width: int, height: int) -> bytes:
    import struct
    import zlib

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 5000)) + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize(("width", "height"), [(60000, 60000), (10000, 10000), (1, 1), (100000, 30)])
def test_a_picture_of_absurd_size_is_refused_without_being_unpacked(width: int, height: int) -> None:
    tracemalloc.start()
    with pytest.raises(Refused):
        measure(_png_head(width, height))
    assert tracemalloc.get_traced_memory()[1] < 20e6
    tracemalloc.stop()


@pytest.mark.parametrize("array", [np.zeros((5, 5, 7)), np.zeros((0, 3)), np.zeros((200, 200), dtype="U1")])
def test_an_array_that_is_no_picture_is_refused(array: np.ndarray) -> None:
    with pytest.raises(Refused):
        measure(array)


@pytest.mark.slow
def test_a_large_photo_takes_little_memory_and_time(tmp_path: Path) -> None:
    image, _ = draw(np.random.default_rng(9), style="shaded", background="white_paper", shape="ovate", ratio=0.8)
    Image.fromarray(image).resize((9600, 9600)).save(tmp_path / "large.jpg", quality=85)
    code = (
        # Not getrusage, which counts the process that started this one.
        "import re, time, tepal.leaf as leaf, sys; from pathlib import Path\n"
        "leaf.measure(sys.argv[1])\n"
        "t = time.process_time(); leaf.measure(sys.argv[1])\n"
        "print(time.process_time() - t, "
        "int(re.search(r'VmHWM:\\s+(\\d+)', Path('/proc/self/status').read_text())[1]) / 1024)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path / "large.jpg")], capture_output=True, text=True, check=True
    )
    seconds, megabytes = map(float, done.stdout.split())
    assert megabytes < 400
    assert seconds < 4  # 92 million pixels; a shared machine


def test_the_drawing_shows_the_photo_and_what_was_said(picture: Image.Image) -> None:
    found = measure(picture)
    image = overlay(np.asarray(picture), found)
    assert image.width == 800
    assert image.height > 600
    changed = np.any(np.asarray(image)[:600] != np.asarray(picture), axis=2).mean()
    assert 0.002 < changed < 0.1
    assert overlay(np.asarray(picture), LeafMeasure(refused="No leaf found. Lay one down.")).height > 600


def _hand(beyond: tuple[int, int, int], shade: float) -> np.ndarray:
    """A round of skin, its left half in shade, before something else."""
    y, x = np.mgrid[0:480, 0:640]
    skin = np.array([200.0, 150.0, 120.0]) * np.where(x < 320, shade, 1.0)[..., None]
    inside = np.hypot(x - 320, y - 240) < 200
    picture = np.where(inside[..., None], skin, np.array(beyond, dtype=float))
    noise = np.random.default_rng(8).normal(0, 4, picture.shape)
    return np.asarray(np.clip(picture + noise, 0, 255).astype(np.uint8))


@pytest.mark.parametrize("beyond", [(60, 75, 105), (140, 138, 134), (96, 84, 60)])
def test_what_lies_behind_a_hand_is_told_from_it_by_colour(beyond: tuple[int, int, int]) -> None:
    far = behind(coarse(features(_hand(beyond, 0.6))))
    assert far is not None
    y, x = np.mgrid[0:120, 0:160] * 4 + 1.5
    outside = np.hypot(x - 320, y - 240) > 200
    # Either side may be called the far one.
    assert max(np.mean(far == outside), np.mean(far != outside)) > 0.97


def test_a_shadow_makes_no_second_ground() -> None:
    assert behind(coarse(features(_hand((200, 150, 120), 0.5)))) is None


def test_a_photo_squeezed_hard_is_refused_unless_it_is_large() -> None:
    """What is left at a quality is the library's own table; on small photos it may hide a petiole whole."""
    picture, truth = draw(np.random.default_rng(31), style="shaded", background="white_paper", shape="ovate", ratio=0.8)
    image = Image.fromarray(picture)

    def at(quality: int, factor: int = 1) -> LeafMeasure:
        out = io.BytesIO()
        image.resize((factor * image.width, factor * image.height)).save(out, "JPEG", quality=quality)
        return measure(out.getvalue())

    for quality in (3, 8, 12):
        assert at(quality).reason == "squeezed"
    assert np.isnan(at(8).petiole_blade_ratio)
    for quality, factor in ((40, 1), (85, 1), (8, 4)):
        assert at(quality, factor).petiole_blade_ratio == pytest.approx(truth.ratio, abs=0.08)
