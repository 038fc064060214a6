"""A leaf that was measured, behind the letter: the drawing alone, and nothing that the photo's file told."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image
from pypdf import PdfReader

from leaf.drawn import draw
from tepal.letter import LetterData, leaf_photo, render
from tepal.tables import Refused
from tepal.words import Words


def _photo(fault: str | None = None) -> bytes:
    image, _ = draw(
        np.random.default_rng(6), style="flat", background="white_paper", shape="ovate", ratio=1.0, size=(800, 600),
        fault=fault,
    )  # fmt: skip
    exif = Image.Exif()
    exif[0x010E] = "secret words"
    exif.get_ifd(0x8825)[1] = "N"
    exif.get_ifd(0x8825)[2] = (41.0, 30.0, 12.5)
    out = io.BytesIO()
    Image.fromarray(image).save(out, "JPEG", quality=90, exif=exif, comment=b"secret comment")
    return out.getvalue()


def test_the_leaf_stands_behind_the_letter_without_what_its_file_told(
    cases: dict[str, Callable[[], LetterData]], us: Words
) -> None:
    shown = leaf_photo(_photo(), us)
    assert b"secret" not in shown.jpeg
    with Image.open(io.BytesIO(shown.jpeg)) as picture:
        assert dict(picture.getexif()) == {}
        assert picture.width == 800
    told = shown.says(us)
    assert "Petiole over blade" in told
    letter = render(replace(next(iter(cases.values()))(), leaf=shown), us)
    assert 'src="data:image/jpeg;base64,' in letter.html
    assert told in letter.html
    pages = PdfReader(io.BytesIO(letter.pdf)).pages
    assert len(pages) == 2
    assert not pages[0].images
    assert len(pages[1].images) == 1


def test_a_leaf_that_cannot_be_measured_is_not_shown(us: Words) -> None:
    with pytest.raises(Refused, match="A letter shows a leaf that was measured"):
        leaf_photo(_photo(fault="none"), us)
