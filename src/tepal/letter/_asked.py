"""The advice turned to the one who gets the letter: the rules speak to the office, and some are its own work."""

from __future__ import annotations

from tepal.advice import Advice, Item
from tepal.letter._data import MOST_TASKS, Said
from tepal.words import Words, message

# What the office asks of itself is asked here of the one who can give it.
_TURNED = {
    "three_photographs": message(
        "Send this office three photos: the whole plant; the upper stem, close up; and a lower leaf with its stalk "
        "(petiole) folded back over the blade."
    ),
    "visit_what_was_reported": message(
        "Tell this office whether and when someone may come and look. If you go yourself, measure the tallest plants "
        "and count them at ten places."
    ),
    "ask_the_trait": message(
        "Tell this office and your applicator what seed was planted and which herbicide traits it has. Until that is "
        "known, nothing is sprayed over the crop."
    ),
    "first_find_tell": message(
        "Call {authority}, or ask this office whether it has. Ask what is to be done with the plants.{law_note}"
    ),
}
# Calls to whoever keeps ground that is not the farmer's, without whose word nobody works there.
_KEEPERS = frozenset({"road_authority", "drainage_authority", "conservation_authority"})
# Nobody's but the office's own.
_OURS = frozenset({"ask_leave_again", "read_the_photographs"})


def asked(advice: Advice) -> tuple[Item, ...]:
    """What the letter asks for, in the order of the advice; what did not fit there takes the place of what is ours."""
    kept = [item for item in (*advice.actions, *advice.later) if item.id not in _OURS]
    return tuple(kept[: min(max(len(advice.actions), 1), MOST_TASKS)])


def worded(item: Item, reader: str) -> Said:
    """The item's sentence as it stands in a letter. Whoever sprays asks for the seed's traits himself."""
    turned = None if reader == "applicator" else _TURNED.get(item.id)
    return item.text if turned is None else lambda words: words.t(turned, **item.fills.worded(words))


def brief(item: Item, advice: Advice) -> Said | None:
    """The step in a text's few words, where the whole of it is needed: a first find is shown, told and pulled."""
    if item.id != "first_find_keep_specimen":
        return None
    if not any(other.id.startswith("first_find_pull") for other in advice.actions):
        return lambda words: words.t(
            "Photograph it, keep leaves, and call {authority} before anything is pulled or cut.",
            **item.fills.worded(words),
        )
    if any(other.id in _KEEPERS for other in advice.actions):
        return lambda words: words.t(
            "Photograph it and keep leaves; call {authority}, and whoever keeps this ground; then pull it and bag it, "
            "all today.",
            **item.fills.worded(words),
        )
    return lambda words: words.t(
        "Photograph it and keep leaves; call {authority}; then pull it and bag it, all today.",
        **item.fills.worded(words),
    )


def care(item: Item, advice: Advice) -> Said | None:
    """What must not be forgotten at this work, short enough for a text; None where it needs no more than the label."""
    told = (
        item,
        *(other for other in advice.actions if brief(item, advice) and other.id.startswith("first_find_pull")),
    )
    cautions = {key for one in told for key in one.cautions}

    def said(words: Words) -> str:
        lines = []
        if "re_entry" in cautions:
            lines.append(words.t("Sprayed lately? Not in before the label's time."))
        if "gloves" in cautions or "heat" in cautions:
            lines.append(words.t("Gloves, water, shade, never alone."))
        elif "machinery" in cautions:
            lines.append(words.t("Engine off and locked out before anyone reaches in."))
        if "transport" in cautions:
            lines.append(words.t("Ask before sacks leave."))
        if any(other.id == "road_authority" for other in advice.actions):
            lines.append(words.t("Bright vest, car off the road."))
        return " ".join(lines)

    return said if cautions & {"re_entry", "gloves", "heat", "machinery", "transport"} else None
