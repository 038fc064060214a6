"""What is not known, and what was done: one line each."""

from __future__ import annotations

from tepal.clock import Note
from tepal.reading._records import DoneLine, Unknown
from tepal.reading._sentences import capital
from tepal.words import Words


def warning(text: str, words: Words) -> str:
    """What had to be assumed, in the language of `words` where it is kept as a message."""
    return text.text(words) if isinstance(text, Note) else text


def unknown(item: Unknown, words: Words) -> str:
    """What is not known, and what would settle it."""
    detail = {key: str(value) for key, value in item.detail.items()}
    crops = [str(crop) for crop in item.detail.get("crops", ())]
    sentences = {
        "crop_part": words.t(
            "Parts of this field carry different crops: {crops}. What stands here follows {crop}. Ask in which part "
            "the plants are.",
            crops=words.listing(crops),
            crop=detail.get("crop", ""),
        ),
        "replanted": words.t(
            "The field was replanted: {before} before, {crop} now. What stands here follows {crop}.",
            before=detail.get("before", ""),
            crop=detail.get("crop", ""),
        ),
        "taxon": words.t(
            "Whether {name} is among them stays open ({chance}). What would settle it: {look}.",
            name=words.t(detail["also"]),
            chance=words.chance(float(item.detail["chance"])),
            look=words.t(detail.get("words", item.look)),
        )
        if "also" in detail
        else words.t(
            "Which pigweed it is stays open. What would settle it: {look}.",
            look=words.t(detail.get("words", item.look)),
        ),
        "number": words.t(
            "Nobody has counted. Where few stand, walk all of it and flag each; where many stand, ten stops with the "
            "area looked at would do."
        ),
        "boundary": words.t("The boundary is not on record, so a total cannot be given."),
        "trait": words.t(
            "The crop's herbicide traits are not on record. Ask before anything is sprayed over the crop."
        ),
        "crop": words.t("This season's crop is not on record."),
        "crop_table": words.t(
            "We hold nothing on {crop}: when its rows close, until when they can be crossed, when it is ripe. Ask "
            "the grower.",
            crop=detail.get("crop", ""),
        ),
        "consent": words.t("Nobody has been asked yet whether we may enter."),
        "weather": words.t("There is no weather station on record, so dates rest on a rough climate and are wide."),
        "walk": words.t("Nobody has walked here yet."),
        "resistance": words.t(
            "Plants lived through a spraying. A seed or leaf sample would tell whether they are resistant."
        ),
        "disputed": words.t("Two corrections of one entry stand against each other; someone must choose."),
    }
    return sentences[item.what]


def done(line: DoneLine, words: Words, *, dated: bool = True) -> str:
    """One line of what was done."""
    what = {
        "sprayed": words.t("sprayed"),
        "pulled": words.t("pulled"),
        "cut": words.t("cut"),
        "bagged": words.t("bagged"),
        "mowed": words.t("mowed"),
        "cultivated": words.t("cultivated"),
        "harvested": words.t("harvested"),
        "other": words.t("other work"),
    }[line.what]
    text = f"{capital(words.day_month(line.on))}: {what}" if dated else capital(what)
    ingredients = [
        words.t("{name} (group {group})", **item) if item.get("group") else str(item["name"])
        for item in line.detail.get("ingredients", ())
    ]
    if ingredients:
        text += " " + words.t("with {ingredients}", ingredients=words.listing(ingredients))
    if line.detail.get("survivors"):
        text += ", " + words.t("and plants lived through it")
    return text + "."
