"""What is drawn is what the state says: measured on the finished SVG, not on the settings it came from."""

from __future__ import annotations

import pytest

from plates.measured import (
    box,
    datas,
    length,
    lines,
    long_and_wide,
    part,
    parts,
    polygon,
    size,
    widest,
    width_at,
)
from tepal.flora import Flora
from tepal.plates import LEVELS, draw, draw_taxon, levels_of


def ratio_of(line: list[complex]) -> float:
    across, along = size(line)
    return along / across


# Botanists' terms for the outline of a leaf (Stearn, Botanical Latin; Systematics Association 1962): length over
# width, the place of the widest part, and how much of its box it fills (a rhomb fills half, an ellipse pi / 4).
OUTLINES = {
    "ovate": ((1.3, 2.2), (0.2, 0.45), (0.55, 0.75)),
    "rhombic": ((1.2, 2.4), (0.38, 0.55), (0.45, 0.57)),
    "lanceolate": ((3.0, 6.0), (0.2, 0.48), (0.5, 0.75)),
    "obovate_spatulate": ((1.5, 3.0), (0.6, 0.85), (0.5, 0.75)),
    "triangular": ((0.9, 2.0), (0.0, 0.25), (0.45, 0.65)),
    "linear": ((7.0, 20.0), (0.3, 0.7), (0.85, 1.0)),
}


@pytest.mark.parametrize("state", OUTLINES)
def test_the_outline_of_a_leaf_is_what_its_name_means(flora: Flora, state: str) -> None:
    blade = part(draw(flora, "leaf_outline", state).svg, "blade")
    across, along = size(blade)
    found = along / across, widest(blade), polygon(blade).area / (across * along)
    for value, (low, high) in zip(found, OUTLINES[state], strict=True):
        assert low <= value <= high, found


@pytest.mark.parametrize(("state", "low", "high"), [("below_middle", 0.1, 0.42), ("middle", 0.46, 0.54),
                                                    ("above_middle", 0.58, 0.9)])  # fmt: skip
def test_the_widest_part_lies_where_it_should(flora: Flora, state: str, low: float, high: float) -> None:
    svg = draw(flora, "widest_point", state).svg
    assert low <= widest(part(svg, "blade")) <= high
    # The line that marks it is as long as the leaf is wide there.
    mark = part(svg, "width")
    assert length(mark) == pytest.approx(width_at(part(svg, "blade"), mark[0].imag), rel=0.02)


@pytest.mark.parametrize("state", ["shorter", "about_equal", "longer"])
def test_the_folded_stalk_ends_where_the_tables_cut(flora: Flora, state: str) -> None:
    svg = draw(flora, "fold_test_lower_leaf", state).svg
    blade, stalk = part(svg, "blade"), part(svg, "stalk")
    _, tip, _, base = box(blade)
    reach = (base - box(stalk)[1]) / (base - tip)
    low, high = flora.characters["fold_test_lower_leaf"].bins
    assert [reach < low, low < reach < high, reach > high] == [state == s for s in ("shorter", "about_equal", "longer")]
    if state != "about_equal":
        assert abs(reach - 1) > 0.2


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("where", ["lower", "mid", "upper"])
def test_stalk_over_blade_is_the_number_below_the_drawing(flora: Flora, where: str, level: str) -> None:
    plate = draw(flora, f"petiole_blade_ratio_{where}", level)
    assert plate.value is not None
    stalk, blade = part(plate.svg, "stalk"), part(plate.svg, "blade")
    assert size(stalk)[1] / size(blade)[1] == pytest.approx(plate.value, rel=0.02)
    # The measure lines run beside them; each is shortened a little, so that the two do not meet.
    a, b = (length(part(plate.svg, f"measure-{name}")) for name in "ab")
    assert a / b == pytest.approx(plate.value, rel=0.12)


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize(("character", "name"), [("blade_lw_ratio", "blade"), ("cotyledon_lw_ratio", "seed-leaf")])
def test_length_over_width_is_the_number_below_the_drawing(flora: Flora, character: str, name: str, level: str) -> None:
    plate = draw(flora, character, level)
    shape = parts(plate.svg, name)[0]
    assert ratio_of(shape) == pytest.approx(plate.value, rel=0.02)
    assert length(part(plate.svg, "measure")) / length(part(plate.svg, "width")) == pytest.approx(plate.value, rel=0.02)


IN_MM = {"mm": 1.0, "cm": 10.0}
# What is measured, by the part that it is measured on, and whether along (1) or across (0) the page.
MEASURED = {
    "blade_length": ("measure", "blade", 1),
    "blade_width": ("width", "blade", 0),
    "petiole_length": ("measure-a", "stalk", 1),
    "cotyledon_length": ("measure", "seed-leaf", 1),
    "terminal_spike_length": ("measure", "top-spike", 1),
    "spike_thickness": ("measure", "top-spike", 0),
    "bract_length_female": ("measure", "bract", 1),
    "bract_length_male": ("measure", "bract", 1),
    "seed_diameter": ("measure", "seed", 0),
}


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("character", MEASURED)
def test_a_measured_part_has_its_published_size_on_the_scale_of_its_plate(
    flora: Flora, character: str, level: str
) -> None:
    plate = draw(flora, character, level)
    line, name, axis = MEASURED[character]
    assert plate.value is not None
    assert plate.scale_mm is not None
    mm = IN_MM[plate.unit] * plate.value
    # A twentieth of a unit is lost to rounding at each end.
    near = max(0.05 * mm, 1.7 * plate.scale_mm / 100)
    assert length(part(plate.svg, line)) * plate.scale_mm / 100 == pytest.approx(mm, abs=near)
    assert size(parts(plate.svg, name)[0])[axis] * plate.scale_mm / 100 == pytest.approx(mm, abs=near)


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize(
    "character",
    ["plant_height", "final_height_trial", "height_2wk_after_planting", "height_4wk_after_planting",
     "side_branch_length"],
)  # fmt: skip
def test_a_measure_line_is_as_long_as_what_it_stands_for(flora: Flora, character: str, level: str) -> None:
    plate = draw(flora, character, level)
    assert plate.value is not None
    assert plate.scale_mm is not None
    shown = length(part(plate.svg, "measure")) * plate.scale_mm / 100
    assert shown == pytest.approx(10 * plate.value, rel=0.02)


def test_growth_in_a_hundred_degree_days_is_the_difference_of_two_plants(flora: Flora) -> None:
    for level, rate in zip(LEVELS, levels_of(flora, "height_growth_rate"), strict=True):
        plate = draw(flora, "height_growth_rate", level)
        assert plate.scale_mm is not None
        assert length(part(plate.svg, "measure")) * plate.scale_mm / 100 == pytest.approx(1000 * rate, rel=0.03)


@pytest.mark.parametrize(("tip", "low", "high"), [("none", 0.0, 0.002), ("shallow", 0.01, 0.05), ("deep", 0.06, 0.2)])
def test_the_notch_is_as_deep_as_its_name(flora: Flora, tip: str, low: float, high: float) -> None:
    blade = part(draw(flora, "leaf_tip_notch", tip).svg, "blade")
    left, top, right, _ = box(blade)
    middle = min(z.imag for z in blade if abs(z.real - 50) < 0.4)
    assert low <= (middle - top) / (right - left) / 1.9 <= high


def test_only_the_notched_first_leaf_has_a_notch(flora: Flora) -> None:
    depths = {}
    for state in ("present", "absent"):
        blade = part(draw(flora, "first_leaf_tip_notch", state).svg, "blade")
        depths[state] = min(z.imag for z in blade if abs(z.real - 50) < 0.4) - box(blade)[1]
    assert depths["present"] > 2.0
    assert depths["absent"] < 0.2


@pytest.mark.parametrize("character", ["stem_hair_upper", "stem_hair_main", "leaf_hair_upper", "leaf_hair_lower"])
def test_hairs_are_none_few_or_many(flora: Flora, character: str) -> None:
    counts = [len(parts(draw(flora, character, state).svg, "hairs")) for state in flora.characters[character].states]
    assert counts[0] == 0
    assert counts[1] >= 8
    assert counts[2] >= 2.5 * counts[1]


def test_hairs_of_the_underside_follow_the_veins_when_few(flora: Flora) -> None:
    few = parts(draw(flora, "leaf_hair_lower", "veins_sparse").svg, "hairs")
    upper = parts(draw(flora, "leaf_hair_upper", "sparse").svg, "hairs")
    # Along the middle vein stands a row of hairs; scattered ones do not keep to it.
    assert sum(abs(hair[0].real - 50) < 1 for hair in few) >= 5
    assert sum(abs(hair[0].real - 50) < 1 for hair in upper) <= 2


@pytest.mark.parametrize("state", ["linear_parallel", "lanceolate_pointed", "oar_or_egg", "ovate_pointed", "round"])
def test_seed_leaves_are_as_slender_as_those_of_the_taxa_that_have_them(flora: Flora, state: str) -> None:
    """Against the measured ratios of the taxa in which the state is the commonest, or nearly so."""
    first, second = (long_and_wide(line) for line in parts(draw(flora, "cotyledon_shape", state).svg, "seed-leaf"))
    assert first[0] == pytest.approx(second[0], rel=0.05)
    drawn = first[0] / first[1]
    ranges = [
        (flora.measures[code, "cotyledon_lw_ratio", "cotyledon"])
        for (code, name, _), row in flora.shares.items()
        if name == "cotyledon_shape"
        and row.shares.get(state, 0) > 0.4
        and (code, "cotyledon_lw_ratio", "cotyledon") in flora.measures
    ] or [flora.measures["AMAPA", "cotyledon_lw_ratio", "cotyledon"]]
    assert any(row.low <= drawn <= row.high for row in ranges), drawn


def test_an_oar_is_widest_toward_its_end_and_an_egg_at_its_base(flora: Flora) -> None:
    def outer_share(state: str) -> float:
        right = max(parts(draw(flora, "cotyledon_shape", state).svg, "seed-leaf"), key=lambda line: box(line)[2])
        left, _, end, _ = box(right)
        shape = polygon(right)
        return float((shape.centroid.x - left) / (end - left))

    assert outer_share("oar_or_egg") > 0.53
    assert outer_share("ovate_pointed") < 0.48
    assert outer_share("linear_parallel") == pytest.approx(0.5, abs=0.03)


@pytest.mark.parametrize(("state", "low", "high"), [("much_longer", 1.4, 2.5), ("about_equal", 0.9, 1.1),
                                                    ("shorter", 0.3, 0.85)])  # fmt: skip
def test_bracts_stand_against_the_tepals_as_the_state_says(flora: Flora, state: str, low: float, high: float) -> None:
    svg = draw(flora, "bract_vs_flower", state).svg
    tepals = [size(line)[1] for line in parts(svg, "tepal")]
    assert low <= size(part(svg, "bract"))[1] / max(tepals) <= high


@pytest.mark.parametrize("level", LEVELS)
def test_bract_over_tepal_is_the_number_below_the_drawing(flora: Flora, level: str) -> None:
    plate = draw(flora, "bract_tepal_ratio", level)
    tepal = max(size(line)[1] for line in parts(plate.svg, "tepal"))
    assert size(part(plate.svg, "bract"))[1] / tepal == pytest.approx(plate.value, rel=0.04)
    a, b = (length(part(plate.svg, name)) for name in ("measure", "measure-tepal"))
    assert a / b == pytest.approx(plate.value, rel=0.02)


def test_the_bract_tells_palmer_from_waterhemp_by_its_published_length(flora: Flora) -> None:
    drawn = {}
    for code in ("AMAPA", "AMATU"):
        plate = draw_taxon(flora, code, "flower")
        assert plate.scale_mm is not None
        mm = size(part(plate.svg, "bract"))[1] * plate.scale_mm / 100
        row = flora.measures[code, "bract_length_female", "reproductive"]
        assert mm == pytest.approx(row.mean, rel=0.05)
        drawn[code] = mm
    assert drawn["AMAPA"] > 2.5 * drawn["AMATU"]
    # Waterhemp's seed-bearing flowers have no tepals to speak of; Palmer's do.
    assert parts(draw_taxon(flora, "AMATU", "flower").svg, "tepal") == []
    assert len(parts(draw_taxon(flora, "AMAPA", "flower").svg, "tepal")) == 3


@pytest.mark.parametrize(("state", "counts"), [("four_five", (4, 5)), ("three", (3,)), ("absent_or_1-2", (0, 1, 2))])
def test_tepals_can_be_counted(flora: Flora, state: str, counts: tuple[int, ...]) -> None:
    assert len(parts(draw(flora, "tepal_count_female", state).svg, "tepal")) in counts


def test_tips_of_tepals(flora: Flora) -> None:
    def top_width(line: list[complex]) -> float:
        """Width one tenth below the top, over the greatest width."""
        _, top, _, bottom = box(line)
        return width_at(line, top + (bottom - top) / 10) / size(line)[0]

    pointed = parts(draw(flora, "tepal_tip_female", "acute_or_awned").svg, "tepal")
    rounded = parts(draw(flora, "tepal_tip_female", "rounded_or_notched").svg, "tepal")
    assert len(pointed) == len(rounded) == 2
    assert max(map(top_width, pointed)) < 0.55
    assert min(map(top_width, rounded)) > 0.6
    assert parts(draw(flora, "tepal_tip_female", "absent").svg, "tepal") == []


@pytest.mark.parametrize(
    ("character", "name", "counts"),
    [
        ("nodal_spines", "spine", {"present": 2, "absent": 0}),
        ("ocrea", "sheath", {"present": 1, "absent": 0}),
        ("watermark", "mark", {"present": 1, "absent": 0}),
        ("leaf_tip_hair", "hair", {"present": 1, "absent": 0}),
        ("cotyledon_midvein", "vein", {"visible": 1, "not_visible": 0}),
        ("utricle_dehiscence", "lid", {"lid_circumscissile": 1, "irregular_or_closed": 0}),
        ("utricle_dehiscence", "tear", {"lid_circumscissile": 0, "irregular_or_closed": 1}),
        ("plant_sex", "stamen", {"male_only": 5, "female_only": 0, "both": 5}),
        ("plant_sex", "fruit", {"male_only": 0, "female_only": 1, "both": 1}),
        ("inflorescence_position", "top-spike", {"terminal_present": 1, "axillary_only": 0}),
    ],
)
def test_what_is_there_or_not(flora: Flora, character: str, name: str, counts: dict[str, int]) -> None:
    assert {state: len(parts(draw(flora, character, state).svg, name)) for state in counts} == counts


@pytest.mark.parametrize(
    ("character", "name", "most"),
    [
        ("mealy_coating", "dust", "present"),
        ("cotyledon_hair", "hairs", "hairy"),
        ("stem_colour", "stripes", "red_or_striped"),
        ("taproot_colour", "hatch", "red_pink"),
        ("leaf_underside_colour", "hatch", "purple"),
        ("cotyledon_underside_colour", "hatch", "red_purple"),
        ("seed_colour", "hatch", "dark_reddish_brown"),
        ("seed_gloss", "stipple", "dull"),
        ("leaf_gloss", "stipple", "dull"),
        ("stem_ridges", "ridges", "ridged"),
        ("seedhead_feel_female", "spine", "sharp"),
    ],
)
def test_a_pattern_stands_for_what_print_cannot_show(flora: Flora, character: str, name: str, most: str) -> None:
    for state in flora.characters[character].states:
        count = len(parts(draw(flora, character, state).svg, name))
        assert count > 3 if state == most else count == 0, (state, count)


def test_colors_are_told_in_words_too(flora: Flora) -> None:
    for character in (
        "stem_colour",
        "taproot_colour",
        "leaf_underside_colour",
        "cotyledon_underside_colour",
        "seed_colour",
    ):
        for state in flora.characters[character].states:
            label = flora.plates[character].by_state[state]["label"]
            assert f">{label}</text>" in draw(flora, character, state).svg


def test_spines_are_a_quarter_to_half_an_inch_long(flora: Flora) -> None:
    """University of Florida: a pair of spines, 1/4 to 1/2 inch, at each leaf joint."""
    plate = draw(flora, "nodal_spines", "present")
    assert plate.scale_mm is not None
    for spine in parts(plate.svg, "spine"):
        assert 0.25 * 25.4 <= long_and_wide(spine)[0] * plate.scale_mm / 100 <= 0.5 * 25.4


def test_chevron_is_a_v_that_points_to_the_stalk(flora: Flora) -> None:
    mark = part(draw(flora, "watermark", "present").svg, "mark")
    left, top, right, bottom = box(mark)
    low = [z for z in mark if z.imag == bottom]
    assert all(abs(z.real - 50) < 1 for z in low)
    assert right - left > 20
    assert top < bottom - 20


def test_first_true_leaves_stand_one_by_one_or_as_a_pair(flora: Flora) -> None:
    def heights(state: str) -> list[float]:
        svg = draw(flora, "leaf_arrangement", state).svg
        return [parts(svg, f"node-{i}")[0][0].imag for i in range(3)]

    one, two, three = heights("alternate")
    assert min(one - two, two - three) > 8
    first, second, _ = heights("first_pair_opposite")
    assert first == second


def test_seeds_are_round_or_long(flora: Flora) -> None:
    assert ratio_of(part(draw(flora, "seed_shape", "round_lens").svg, "seed")) < 1.1
    assert ratio_of(part(draw(flora, "seed_shape", "oval_obovate").svg, "seed")) > 1.25


def test_edges_of_leaves(flora: Flora) -> None:
    """Flat, wavy, toothed: outline over that of the convex hull, and sharp corners."""
    rough = {}
    for state in ("entire_flat", "wavy", "toothed"):
        blade = part(draw(flora, "leaf_margin", state).svg, "blade")
        shape = polygon(blade)
        rough[state] = shape.length / shape.convex_hull.length
    assert rough["entire_flat"] < 1.015 < rough["wavy"] < rough["toothed"]


def test_forms_of_heads(flora: Flora) -> None:
    def look(state: str) -> tuple[float, float, int]:
        """Slenderness of the top spike, its share of the head's height, number of side spikes."""
        svg = draw(flora, "inflorescence_type", state).svg
        top, sides = parts(svg, "top-spike"), parts(svg, "side-spike")
        across, along = size(*top)
        return along / max(across, 0.1), along / size(*top, *sides)[1], len(sides)

    long = look("long_single_or_few_spikes")
    thick = look("thick_short_branched")
    stiff = look("stiff_few_long_branches")
    many = look("slender_many_branched")
    loose = look("slender_open_panicle")
    assert thick[0] < 3.2
    assert min(long[0], stiff[0], many[0]) > 6
    assert long[1] > 0.85
    assert long[2] <= 3 < stiff[2] < many[2]
    assert loose[0] > 15
    for state in ("axillary_clusters", "axillary_balls_plus_male_spike"):
        svg = draw(flora, "inflorescence_type", state).svg
        assert len(parts(svg, "cluster")) >= 6
        assert len(parts(svg, "spike")) == (1 if state.startswith("axillary_balls") else 0)


def test_habits_are_tall_round_or_flat(flora: Flora) -> None:
    def tall(state: str) -> float:
        """Height over breadth of all that is washed: the leaves."""
        svg = draw(flora, "growth_habit", state).svg
        leaves = [line for d in datas(svg) if d.endswith("z") for line in lines(d)]
        across, along = size(*leaves)
        return along / across

    assert tall("erect") > 1.4
    assert 0.5 < tall("ascending_bushy") < 1.0
    assert tall("prostrate_mat") < 0.3


@pytest.mark.parametrize("code", ["AMAPA", "AMATU", "AMARE", "AMABL"])
def test_a_taxon_is_drawn_as_its_tables_tell(flora: Flora, code: str) -> None:
    svg = draw_taxon(flora, code, "leaf").svg
    stalk, blade = part(svg, "stalk"), part(svg, "blade")
    found = flora.measures[code, "petiole_blade_ratio_lower", "vegetative"].mean
    assert size(stalk)[1] / size(blade)[1] == pytest.approx(found, rel=0.02)
    slender = flora.measures[code, "blade_lw_ratio", "vegetative"].mean
    assert ratio_of(blade) == pytest.approx(slender, rel=0.03)
