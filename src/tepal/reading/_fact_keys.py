"""The facts a reading offers to rules: each key, its type and what it means. Rules may name no other key."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Literal

FactType = Literal["text", "number", "yes_no", "date", "moment"]

WINDOW_KEYS = ("height_10_cm", "flowers", "viable_seed", "next_flush", "regrowth")

_WINDOW = {"height_10_cm": "the tallest, one in twenty, pass 10 cm"}

_ONE: dict[str, tuple[FactType, str]] = {
    "as_of": ("date", "the day of the reading"),
    "month": ("number", "month of that day, 1 to 12"),
    "ground": ("text", "what the site is: field, ditch, roadside, pasture…"),
    "county": ("text", "county"),
    "state": ("text", "state, two letters"),
    "region": ("text", "SE, CB, UM, SP or NE"),
    "hectares": ("number", "area of the site"),
    "boundary_known": ("yes_no", "the site's boundary is on record"),
    "waterway": ("yes_no", "a waterway is on record in or along the site"),
    "beside": ("text", "what else is drawn on the site's map by name: hives, a well, a yard; with semicolons"),
    "consent": ("yes_no", "someone who may has allowed entry; unknown where nobody was asked"),
    # what it is
    "leading": ("text", "code of the likeliest taxon among the pigweeds here"),
    "leading_share": ("number", "its expected share"),
    "p_hunted": ("number", "chance that at least one of the plants looked at is a taxon we hunt"),
    "named_plants": ("number", "plants that were looked at closely this season"),
    "named_by_sight": ("yes_no", "names were only written beside counts; no plant was looked at closely"),
    "looked_this_season": ("yes_no", "somebody of the office has been there this season"),
    "seen_before": ("yes_no", "pigweeds stood here in an earlier season"),
    "season_over": ("yes_no", "frost has more likely than not killed the plants"),
    "seen_any": ("yes_no", "any pigweed was seen"),
    "none_seen": ("yes_no", "walked or counted, and nothing found"),
    "where_hectares": ("number", "ground within 30 m of where pigweeds were seen; unknown where a place is missing"),
    "reported_only": ("yes_no", "told of, nobody of the office has been there"),
    "photos": ("number", "photographs of this season that are on record here"),
    "seen_share": ("number", "mean chance that the walks would have seen a plant standing there"),
    # how many (hunted taxa)
    "density_per_ha": ("number", "plants per hectare of the taxa hunted, median"),
    "total": ("number", "plants of the taxa hunted at the site, median"),
    "total_q95": ("number", "the same, 95 % point"),
    "density_all_per_ha": ("number", "plants per hectare of all pigweeds, median"),
    "counted": ("yes_no", "there are counts with an area, or a walk with a width"),
    # how far along
    "tallest_seen_cm": ("number", "tallest plant of the last visit, on the day it was seen"),
    "tallest_cm": ("number", "tallest plants on the day of the reading, median"),
    "tallest_cm_q90": ("number", "the same, 90 % point"),
    "stage": ("text", "most advanced stage seen"),
    "flowering_seen": ("yes_no", "a flowering plant was seen"),
    "flower_days": ("number", "days since flowering was first seen"),
    "seed_dark_seen": ("yes_no", "dark seed was seen"),
    "only_males_seen": ("yes_no", "each plant in flower that was looked at is a male; unknown where none was"),
    "p_viable_seed": ("number", "chance that plants here carry viable seed on the day of the reading"),
    # the crop
    "crop": ("text", "crop of the season"),
    "traits_known": ("yes_no", "the seed's herbicide traits are on record"),
    "traits": ("text", "the traits, with semicolons"),
    "planted": ("date", "planting day"),
    "days_since_planting": ("number", "days since planting"),
    "row_cm": ("number", "row width"),
    "harvested": ("yes_no", "this season's crop is off"),
    "harvested_days": ("number", "days since the crop came off"),
    "looked_since_harvest": ("yes_no", "the ground was looked at since the crop came off; unknown where none came off"),
    "harvest_near": ("yes_no", "within about six weeks before the usual harvest"),
    "crop_kind": (
        "text",
        "row, small_grain, forage, cover (a cover crop), or none where no crop stands (fallow, prevented planting)",
    ),
    "trait_sold": ("yes_no", "seed of this crop with herbicide traits is sold; unknown for a crop that no table holds"),
    "crop_stage": ("text", "crop stage, as told"),
    "canopy_closed": ("yes_no", "rows have usually closed by now"),
    "rows_crossable": ("yes_no", "people can still cross the rows without harm"),
    "cultivable": ("yes_no", "a cultivator can still pass between the rows"),
    "spray_stage_open": (
        "yes_no",
        "most labels still allow a spray over the crop at its stage, as told or by its usual days; unknown: neither is",
    ),
    "organic": ("yes_no", "the crop is told to be organic; unknown where nothing is said"),
    "split": ("yes_no", "parts of the site carry different crops"),
    "double_crop": ("yes_no", "planted after a small grain of the same year"),
    # what was done
    "sprayed_days": ("number", "days since the last spraying"),
    "sprayed_groups": ("text", "sites of action of this season's spraying on plants, WSSA numbers with commas"),
    "survivors": ("yes_no", "living plants were seen after a spraying, as told by the person"),
    "survivors_were_cm": ("number", "tallest plant on the day of that spraying; unknown where nobody wrote it down"),
    "pulled_days": ("number", "days since plants were last pulled"),
    "cut_days": ("number", "days since plants were last cut or hoed"),
    "mowed_days": ("number", "days since the last mowing"),
    "looked_since_work": (
        "yes_no",
        "looked at since plants were last pulled, cut or mowed this season; unknown: never",
    ),
    "moved_out_days": ("number", "days since something that may carry seed left here, this season or the last"),
    "moved_in_days": ("number", "days since something that may carry seed came here, this season or the last"),
    "moved_out": ("text", "what left this season or the last, each load as told, the newest first, with semicolons"),
    "moved_out_on": ("text", "the days on which it left, YYYY-MM-DD, in the same order"),
    "re_entry_until": ("moment", "end of the re-entry time as read from the label"),
    "re_entry_open": ("yes_no", "that time has not passed"),
    "pre_harvest_until": ("date", "no harvest before, as read from the label"),
    "pre_harvest_open": ("yes_no", "that day has not come"),
    "resistant_groups": ("text", "sites of action to which a laboratory found resistance here, with commas"),
    "sample_pending": ("yes_no", "a sample was made and no result has come"),
    # the law, the weather and the calendar of the state
    "law.listed": ("text", "yes, county, seed or no, of a hunted taxon that may be here; unknown where no row is held"),
    "law.taxon": ("text", "the taxon of that row"),
    "law.class": ("text", "the class it is listed in"),
    "law.tell": ("text", "whom to tell"),
    "law.how_soon": ("text", "how soon"),
    "law.must": ("text", "what the law asks for"),
    "law.transport": ("text", "what it says of moving plants or seed"),
    "law.checked": ("date", "the day the row was read"),
    "law.status": ("text", "read, recalled or office (the office's own row)"),
    "hot_days": ("number", "of the coming seven days, those that reach 32 degC in a usual year of the station"),
    "hottest_lately_c": ("number", "the hottest of the last three days at the station"),
    "nesting.open": ("yes_no", "within the state's primary nesting season of conservation ground"),
    "nesting.until": ("date", "its last day this year"),
}

# The same in every weed group.
COMMON: dict[str, tuple[FactType, str]] = {
    **_ONE,
    **{
        f"window.{event}.{point}": (
            "date",
            f"{_WINDOW.get(event, event)} of the leading hunted taxon, {point} of the date",
        )
        for event in WINDOW_KEYS
        for point in ("q10", "q50", "q90")
    },
}


def fact_types(hunted: Sequence[str]) -> Mapping[str, tuple[FactType, str]]:
    """Every fact of a group whose hunted taxa are these (`Flora.hunted()`): key to type and meaning, in a fixed order.

    >>> [key for key in fact_types(["AMAPA"]) if key.endswith("AMAPA")]
    ['p_any.AMAPA', 'proved.AMAPA', 'first_find.AMAPA']
    """
    return {
        **COMMON,
        **{
            f"p_any.{code}": ("number", f"chance that at least one of the plants looked at is {code}")
            for code in hunted
        },
        **{f"proved.{code}": ("yes_no", f"a laboratory proved {code} here") for code in hunted},
        **{
            f"first_find.{code}": ("yes_no", f"{code} is thought to be here and was not proved in this county before")
            for code in hunted
        },
    }
