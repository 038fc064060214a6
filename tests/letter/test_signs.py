"""A name in whatever script does not cost anybody the letter."""

from __future__ import annotations

from datetime import date

from tepal.letter._setting import MISSING, set_pdf

SOURCE = b'#set document(title: "x")\n#set text(font: "Atkinson Hyperlegible")\n#sys.inputs.at("data")'
DAY = date(2026, 6, 18)


def made(text: str) -> bytes:
    return set_pdf(SOURCE, {"data": text}, DAY)


def test_signs_that_the_typeface_lacks_become_boxes_and_the_rest_stays() -> None:
    # The same bytes as if the boxes had been written: nothing else of the page is touched.
    assert made("Field 田 and 田園") == made(f"Field {MISSING} and {MISSING * 2}")
    assert made("水田田水 Ñandú \U0001f33e \U0001f525") == made(f"{MISSING * 4} Ñandú {MISSING} {MISSING}")


def test_what_the_typeface_has_is_left_as_it_is() -> None:
    for text in ("Peña’s “North” Eighty – NW¼, 10 cm ≥ 4 in", "<script> #let x = 1 $x$ *b* _i_ @l"):
        assert MISSING not in text
        assert made(text) != made(text + MISSING)
        assert made(text) == made(text)


def test_forty_scripts_in_one_name_are_set_all_the_same() -> None:
    starts = (0x391, 0x410, 0x531, 0x5D0, 0x627, 0x905, 0x985, 0xE01, 0x10A0, 0x1200, 0x3042, 0x30A2, 0x4E00, 0xAC00)
    text = "".join(chr(start + i) for start in starts for i in range(3))
    assert made(f"a {text} z").startswith(b"%PDF")
