"""Drawings of a taxon, put together from what most of its plants show."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tepal.flora import STAGES, Flora, Measure, StateShares
from tepal.plates import _stems
from tepal.plates._curve import UP
from tepal.plates._draw import Plate, plate_of
from tepal.plates._flowers import flower
from tepal.plates._habit import SIZES, Looks, draw_plant
from tepal.plates._head_forms import HEADS
from tepal.plates._heads import in_joints, stem_leaves
from tepal.plates._leaf import Blade, Place, draw_leaf, stalk
from tepal.plates._plants import draw_head
from tepal.plates._seedlings import GROUND, seed_leaves, soil
from tepal.plates._sheet import HEAVY, LIGHT, Sheet
from tepal.tables import Refused
from tepal.words import Words

PARTS = ("plant", "leaf", "head", "stem", "flower", "seedling")
# What each part cannot do without, by the names of [plant] in plates.toml.
_NEEDS = {
    "plant": ("habit", "height", "outline", "head"),
    "leaf": ("outline", "stalk_ratio", "blade_length"),
    "head": ("head", "outline"),
    "stem": ("hair", "spines"),
    "flower": ("bract",),
    "seedling": ("seed_leaf", "seed_leaf_length"),
}


def parts_of(flora: Flora, code: str) -> tuple[str, ...]:
    """The parts of a taxon of which the tables tell enough to draw them."""
    return tuple(part for part in PARTS if not _missing(_Taxon(flora, code), part))


def draw_taxon(flora: Flora, code: str, part: str = "plant", *, words: Words | None = None) -> Plate:
    """One part of a taxon as most of its plants have it, for cards: what to pull, what to leave.

    Parameters
    ----------
    flora
        The weed group; [plant] in its plates.toml says which character gives what.
    code
        Code of the taxon; case does not matter.
    part
        One of `PARTS`: the whole plant in flower, a lower leaf with its whole stalk, the flower head, the upper stem,
        a seed-bearing flower under the lens, the seedling.
    words
        Language and units of the words; English and US units if not given.

    Raises
    ------
    Refused
        For a code or a part that is not known, or one of which the tables do not tell enough.
    """
    words = words or Words()
    code = flora.taxon(code).code
    if part not in PARTS:
        raise Refused(
            f"part {part!r}",
            where="command line",
            rule=f"The parts are {', '.join(PARTS)}.",
            step="Choose one of them.",
        )
    taxon = _Taxon(flora, code)
    missing = _missing(taxon, part)
    if missing:
        raise Refused(
            f"no drawing of the {part} of {code}",
            where=f"tables of {flora.group}",
            rule=f"It is drawn from {', '.join(_NEEDS[part])}; nothing is told of {', '.join(missing)}.",
            step="Name the characters under [plant] in plates.toml, and give them rows for this taxon.",
        )
    sheet = Sheet(words)
    {"plant": _plant, "leaf": _leaf, "head": _head, "stem": _stem, "flower": _flower, "seedling": _seedling}[part](
        sheet, taxon
    )
    title = words.t("{name}, {part}", name=words.t(flora.taxa[code].english_name), part=_part_words(words, part))
    told = [words.t(flora.characters[name].state_words[state]) for name, state in taxon.used.items()]
    what = words.t("{title}: {looks}", title=title, looks=words.listing(told)) if told else title
    return plate_of(sheet, code, part, title=title, shown=what)


def draw_taxon_all(flora: Flora, code: str, *, words: Words | None = None) -> Iterator[Plate]:
    """Every part of a taxon of which the tables tell enough."""
    for part in parts_of(flora, code):
        yield draw_taxon(flora, code, part, words=words)


def _part_words(words: Words, part: str) -> str:
    return {
        "plant": words.t("a plant in flower"),
        "leaf": words.t("a lower leaf"),
        "head": words.t("the flower head"),
        "stem": words.t("the upper stem"),
        "flower": words.t("a seed-bearing flower"),
        "seedling": words.t("a seedling"),
    }[part]


class _Taxon:
    """What most plants of a taxon show, by the names of [plant]; remembers which states were asked for."""

    def __init__(self, flora: Flora, code: str) -> None:
        self.flora, self.code = flora, code
        self.used: dict[str, str] = {}

    def row(self, trait: str) -> StateShares | Measure | None:
        """What the tables tell of a trait: at the latest stage that they tell of."""
        name = self.flora.portrait.get(trait, "")
        tables: tuple[Mapping[Any, StateShares | Measure], ...] = (self.flora.shares, self.flora.measures)
        rows = [
            row
            for stage in reversed(("any", *STAGES))
            for table in tables
            if (row := table.get((self.code, name, stage))) is not None
        ]
        return rows[0] if rows else None

    def number(self, trait: str, default: float) -> float:
        """The mean of a measured trait, in the character's unit."""
        row = self.row(trait)
        return row.mean if isinstance(row, Measure) else default

    def settings(self, trait: str) -> Mapping[str, Any]:
        """The settings of the state that most plants show; empty where nothing is told."""
        row = self.row(trait)
        if not isinstance(row, StateShares):
            return {}
        state = max(row.shares, key=lambda name: row.shares[name])
        plate = self.flora.plates[row.character]
        self.used[row.character] = state
        return {**plate.settings, **plate.by_state[state]}


def _missing(taxon: _Taxon, part: str) -> list[str]:
    return [trait for trait in _NEEDS[part] if taxon.row(trait) is None]


def _blade(taxon: _Taxon) -> Blade:
    shape = taxon.settings("outline")
    ratio = taxon.number("blade_ratio", float(shape.get("ratio", 2.0)))
    return Blade(ratio, shape.get("widest", 0.38), shape.get("base", "egg"), shape.get("tip", "tapering"))


def _plant(sheet: Sheet, taxon: _Taxon) -> None:
    form = taxon.settings("habit").get("form", "erect")
    head = taxon.settings("head").get("form", "")
    height_cm = taxon.number("height", 100.0)
    long_cm = taxon.number("blade_length", 6.0)
    head_cm = taxon.number("head_length", 0.25 * height_cm)
    tall = SIZES[form]
    # A flat plant is about four times as wide as high (judgement).
    across_cm = 4 * height_cm if form == "mat" else height_cm
    sheet.per_mm = tall / (10 * across_cm)
    # Leaves true to scale would be specks on a plant as tall as a person: about twice their size.
    looks = Looks(
        habit=form,
        blade=_blade(taxon),
        leaf=min(0.2, max(0.08 if form == "mat" else 0.125, 2 * long_cm / across_cm)),
        stalk=taxon.number("stalk_ratio", 0.6),
        head=head,
        head_share=min(0.42, max(0.16, (1.0 if head == "one_long_spike" else 1.2) * head_cm / height_cm)),
        bristle=1.6 if taxon.settings("feel").get("stiff") else 0.0,
        spines=bool(taxon.settings("spines").get("spines")),
        weight=HEAVY,
    )
    soil(sheet, left=3, right=97)
    draw_plant(sheet, looks, complex(50, GROUND), tall)


def _leaf(sheet: Sheet, taxon: _Taxon) -> None:
    blade, ratio = _blade(taxon), taxon.number("stalk_ratio", 0.6)
    # Blades of all taxa are drawn equally long, so that their stalks can be compared.
    most = max(
        row.mean for (_, name, _), row in taxon.flora.measures.items() if name == taxon.flora.portrait["stalk_ratio"]
    )
    long = 90 / (1 + most)
    sheet.per_mm = long / (10 * taxon.number("blade_length", 6.0))
    base = complex(50, 3 + long)
    end = base + 1j * ratio * long
    stalk(sheet, [base, (base + end) / 2, end], wide=2.4, weight=HEAVY, part="stalk")
    sheet.line([end + complex(-8, 2.5), end + complex(8, 0.5)], LIGHT)
    draw_leaf(sheet, blade, Place(base, UP, long), part="blade")


def _head(sheet: Sheet, taxon: _Taxon) -> None:
    settings = taxon.settings("head")
    form = settings.get("form", "")
    if form not in HEADS:
        spiky = form == "balls_and_spike"
        in_joints(sheet, prickly=spiky, spike=spiky)
        return
    tall = {"thick_short": 66.0, "plume": 74.0}.get(form, 78.0)
    sheet.per_mm = tall * HEADS[form].share / (10 * taxon.number("head_length", 20.0))
    foot = complex(50, 4 + tall)
    stem_leaves(sheet, foot.imag)
    feel = taxon.settings("feel")
    bristle = 4.0 if feel.get("stiff") else 2.0 if feel.get("points_mm") else 0.0
    draw_head(sheet, form, foot, tall, bristle=bristle, dark=bool(settings.get("dark")), stem=2.6)


def _stem(sheet: Sheet, taxon: _Taxon) -> None:
    if taxon.settings("spines").get("spines"):
        _stems.node(sheet, spines=True)
        return
    hair = taxon.settings("hair")
    _stems.stem(sheet, part="upper", hairs=hair.get("hairs", 0), width_mm=hair.get("width_mm", 5.0))


def _flower(sheet: Sheet, taxon: _Taxon) -> None:
    bract = taxon.number("bract", 2.0)
    count = int(taxon.settings("tepals").get("tepals", 3))
    tip = taxon.settings("tepal_tip").get("first", "") or "pointed"
    # Without tepals the fruit is what a bract is held against.
    ratio = taxon.number("bract_ratio", 0.0)
    size = bract / ratio if ratio else 2.0
    flower(
        sheet,
        asks="length",
        bract_mm=bract,
        largest=max(6.0, bract),
        flower_mm=size,
        tepals=3 if count > 2 else 0,
        kind=tip,
    )


def _seedling(sheet: Sheet, taxon: _Taxon) -> None:
    shape = {
        key: value for key, value in taxon.settings("seed_leaf").items() if key in ("widest", "base", "tip", "ratio")
    }
    shape["ratio"] = taxon.number("seed_leaf_ratio", float(shape.get("ratio", 3.0)))
    seed_leaves(sheet, length_mm=taxon.number("seed_leaf_length", 9.0), **shape)
