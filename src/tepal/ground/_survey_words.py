"""Descriptions of the public land survey as people write and say them, read to `Survey`."""

from __future__ import annotations

import re
import unicodedata

from tepal.ground._survey import Survey

_MOST_PARTS, _DEEPEST = 40, 6
_MOST_TOWNSHIP, _MOST_RANGE = 200, 130  # beyond every survey there is

_ORDINALS = ("First", "Second", "Third", "Fourth", "Fifth", "Sixth")
# Named as the survey names them.
_MERIDIANS = (
    *(f"{word} Principal Meridian" for word in _ORDINALS),
    *(
        f"{name} Meridian"
        for name in (
            "Black Hills", "Boise", "Chickasaw", "Choctaw", "Cimarron", "Copper River", "Fairbanks",
            "Gila and Salt River", "Humboldt", "Huntsville", "Indian", "Kateel River", "Louisiana", "Michigan",
            "Mount Diablo", "Navajo", "New Mexico", "Montana", "Salt Lake", "San Bernardino", "Seward", "St. Helena",
            "St. Stephens", "Tallahassee", "Uintah", "Umiat", "Ute", "Washington", "Willamette", "Wind River",
        )
    ),
)  # fmt: skip


def plain_signs(text: str) -> str:
    """Fractions, dashes and wide signs as plain ones."""
    text = unicodedata.normalize("NFKC", text).replace("⁄", "/")
    return re.sub(r"[‐-―−]", "-", text)


# --- section, township, range ---------------------------------------------------------------------------------------
_NS, _EW = r"(?P<ns>n(?:orth)?|s(?:outh)?)", r"(?P<ew>e(?:ast)?|w(?:est)?)"
_T = rf"(?<![a-z])t(?:ownship|wp|wnshp|wsp)?\.?\s*(?P<t>\d{{1,3}})\s*{_NS}(?![a-z])\.?"
_R = rf"r(?:ange|ng|ge)?\.?\s*(?P<r>\d{{1,3}})\s*{_EW}(?![a-z])\.?"
_GAP = r"[\s,;:/-]{0,4}(?:of\s+)?"
_SEC = (
    r"(?<![a-z])(?:sections?|sect?s?)\.?\s*#?\s*(?P<s>\d{1,3})(?![\d/.])"
    r"(?P<more>\s*(?:,|and|&)\s*(?:sec\w*\.?\s*)?\d{1,2}(?![\d/a-z]))?"
)
_LOOSE = re.compile(rf"{_T}{_GAP}{_R}", re.IGNORECASE)
_SECTION = re.compile(_SEC, re.IGNORECASE)
_BEFORE = re.compile(r"(?<![\d.])(?P<s>\d{1,3})[\s,-]{1,3}\Z")
_AFTER = re.compile(r"[\s,-]{1,3}s?\s?(?P<s>\d{1,3})(?![\d/.a-z])", re.IGNORECASE)
_BARE_BEFORE = re.compile(r"(?<![a-z])s\s?(?P<s>\d{1,3})[\s,;-]{0,3}\Z", re.IGNORECASE)
# Numbers and directions alone, as in a telephone note; the dashes tell them from degrees.
_COMPACT = re.compile(
    rf"(?<![\d.-])(?P<s>\d{{1,3}})\s?[-/]\s?(?P<t>\d{{1,3}})\s?{_NS}\s?[-/]\s?(?P<r>\d{{1,3}})\s?{_EW}(?![\w.])",
    re.IGNORECASE,
)
_COMPACT_AFTER = re.compile(
    rf"(?<![\d.-])(?P<t>\d{{1,3}})\s?{_NS}\s?[-/]\s?(?P<r>\d{{1,3}})\s?{_EW}\s?[-/]\s?(?P<s>\d{{1,3}})(?![\d.])",
    re.IGNORECASE,
)
_WORDED = re.compile(
    rf"(?<![a-z])sec(?:tion|t)?s?\.?\s*(?P<s>\d{{1,3}})[\s,-]+t?\.?\s?(?P<t>\d{{1,3}})\s?{_NS}[\s,-]+r?\.?\s?"
    rf"(?P<r>\d{{1,3}})\s?{_EW}(?![\w.])",
    re.IGNORECASE,
)
_UNDIRECTED = re.compile(r"(?<![\d.-])\d{1,2}-\d{1,3}-\d{1,3}(?![\d.-])")

# --- halves and quarters --------------------------------------------------------------------------------------------
_QUARTER = r"(?:\s*1\s?/\s?4|\s*/\s?4|4(?![\d/.-])|\s*-?\s*(?:quarter|qtr|qr)s?\b\.?)"
_HALF = r"(?:\s*1\s?/\s?2|\s*/\s?2|2(?![\d/.-])|\s*-?\s*(?:half|hf)\b\.?)"
_TWO = r"(?:north\s?-?east|north\s?-?west|south\s?-?east|south\s?-?west|n\.?e|n\.?w|s\.?e|s\.?w)\.?"
_ONE = r"(?:north|south|east|west|n|s|e|w)\.?"
_ALIQUOT = re.compile(
    rf"(?P<quarter>{_TWO})(?P<q>{_QUARTER})|(?P<half>{_ONE})(?P<h>{_HALF})|(?P<bare>ne|nw|se|sw)(?![a-z]*[a-df-mo-rt-vx-z])",
    re.IGNORECASE,
)
_BETWEEN = re.compile(r"\s*(?:(?:of|in)\s+)?(?:the\s+)?", re.IGNORECASE)
_LIST = re.compile(r"\s*(?:,\s*and\b|,|;|&|\+|\band\b)\s*(?:the\s+)?", re.IGNORECASE)
_TO_SECTION = re.compile(r"[\s,;:]*(?:(?:of|in)\s+)?(?:the\s+)?\Z", re.IGNORECASE)
_TAKES_AWAY = re.compile(
    r"(?:\b\w+\s+corner|\bless|\bexcept(?:ing)?|\bexc\.|\bminus|\bgov\w*'?t?\s*lots?\s*\d+|\blots?\s*\d+|\btract|\bpart\s+of|\bpt\.?\s+of"
    r"|\blying|\b(?:north|south|east|west)\s+of)\b.*",
    re.IGNORECASE | re.DOTALL,
)


def read_survey(text: str) -> tuple[Survey | None, tuple[int, int] | None, tuple[str, ...]]:
    """The one survey description in a text (as `plain_signs` gives it), the span it takes, and what was not taken.

    Notes are sentences that say why something that looks like a description was left as words.
    """
    found = _section(text)
    if found is None:
        if _UNDIRECTED.search(text) and _ALIQUOT.search(text):
            return None, None, ("Section, township and range without N, S, E or W can mean several places.",)
        return None, None, ()
    section, township, north, range_, east, start, end, several = found
    span = (start, end)
    if several:
        return None, span, ("Several sections are named; a report names one place: write one report for each.",)
    if not 1 <= section <= 36:
        return None, span, (f"A township has sections 1 to 36, not {section}.",)
    if not (1 <= township <= _MOST_TOWNSHIP and 1 <= range_ <= _MOST_RANGE):
        return None, span, (f"No survey has township {township}, range {range_}.",)
    parts, begin, notes = _parts(text[:start])
    if not parts:
        # "T9N R3E Sec. 7, SW 1/4": the part may come last.
        after, stop, more = _parts_after(text[end:])
        parts, notes = after, notes + more
        end += stop
    meridian = _meridian(text)
    left = (text[:begin] + " " + text[end:]).strip()
    taken = _TAKES_AWAY.search(left)
    rest = re.sub(r"\s+", " ", taken.group()).strip(" .,;")[:200] if taken else ""
    if rest:
        notes += ("Part of the description was kept as words, so that its acres are not known.",)
    survey = Survey(section, township, north, range_, east, parts, meridian, rest)
    return survey, (begin, end), notes


def _section(text: str) -> tuple[int, int, bool, int, bool, int, int, bool] | None:
    for pattern in (_COMPACT, _COMPACT_AFTER, _WORDED):
        compact = pattern.search(text)
        if compact:
            return (int(compact["s"]), *_numbers(compact), compact.start(), compact.end(), False)
    loose = _LOOSE.search(text)
    if loose is None:
        return None
    named = _SECTION.search(text)
    if named:
        start, end = min(named.start(), loose.start()), max(named.end(), loose.end())
        # What stands between the two is part of neither: only punctuation may.
        return (int(named["s"]), *_numbers(loose), start, end, bool(named["more"]))
    for where, pattern in ((text[: loose.start()], _BARE_BEFORE), (text[: loose.start()], _BEFORE)):
        before = pattern.search(where)
        if before:
            return (int(before["s"]), *_numbers(loose), before.start(), loose.end(), False)
    after = _AFTER.match(text, loose.end())
    if after:
        return (int(after["s"]), *_numbers(loose), loose.start(), after.end(), False)
    return None


def _numbers(found: re.Match[str]) -> tuple[int, bool, int, bool]:
    north, east = found["ns"][0].lower() == "n", found["ew"][0].lower() == "e"
    return int(found["t"]), north, int(found["r"]), east


def _chains(text: str) -> list[tuple[int, int, tuple[tuple[str, ...], ...], bool, bool]]:
    """Runs of parts: start, end, the parts, whether a comma stood between two, whether every name has its fraction."""
    out = []
    at = 0
    while (first := _next(text, at)) is not None:
        start, end = first.start(), first.end()
        chain, parts, comma, marked = [_name(first)], [], False, first["bare"] is None
        while True:
            gap = _BETWEEN.match(text, end)
            following = _ALIQUOT.match(text, gap.end() if gap else end)
            if following is None:
                separator = _LIST.match(text, end)
                following = _ALIQUOT.match(text, separator.end()) if separator else None
                if separator is None or following is None:
                    break
                comma = comma or "," in separator.group()
                parts.append(tuple(chain))
                chain = []
            chain.append(_name(following))
            marked = marked and following["bare"] is None
            end = following.end()
        parts.append(tuple(chain))
        out.append((start, end, tuple(parts), comma, marked))
        at = end
    return out


def _next(text: str, at: int) -> re.Match[str] | None:
    """The next part that does not begin inside a word ("see", "west")."""
    for found in _ALIQUOT.finditer(text, at):
        if found.start() == 0 or not text[found.start() - 1].isalnum():
            return found
    return None


def _name(found: re.Match[str]) -> str:
    word = (found["quarter"] or found["half"] or found["bare"]).lower()
    word = re.sub(r"[\s.-]", "", word)
    for long, short in (("north", "n"), ("south", "s"), ("east", "e"), ("west", "w")):
        word = word.replace(long, short)
    return word.upper()


def _parts(before: str) -> tuple[tuple[tuple[str, ...], ...], int, tuple[str, ...]]:
    """The parts that end where the section begins, and where they start."""
    for start, end, parts, comma, marked in _chains(before):
        gap = before[end:]
        if not _TO_SECTION.match(gap):
            continue
        if not marked and re.search(r"\bof\b", gap, re.IGNORECASE) and parts == ((parts[-1][-1],),):
            # "NE of Sec. 7" may be a direction.
            return (), len(before), ("A direction before 'of' was not taken for a quarter; write NE¼ if it is one.",)
        return _checked(parts, start, comma)
    return (), len(before), ()


def _parts_after(after: str) -> tuple[tuple[tuple[str, ...], ...], int, tuple[str, ...]]:
    for start, end, parts, comma, marked in _chains(after):
        if marked and re.fullmatch(r"[\s,;:.-]*(?:the\s+)?", after[:start], re.IGNORECASE):
            checked, _, notes = _checked(parts, start, comma)
            return checked, end if checked else 0, notes
        break
    return (), 0, ()


def _checked(
    parts: tuple[tuple[str, ...], ...], start: int, comma: bool
) -> tuple[tuple[tuple[str, ...], ...], int, tuple[str, ...]]:
    if len(parts) > _MOST_PARTS or max(map(len, parts)) > _DEEPEST:
        return (), start, ("More parts of a section than a description has.",)
    notes = ("A comma between parts was read as 'and', as surveys do; write 'of' for a part of a part.",)
    return parts, start, notes if comma else ()


def _meridian(text: str) -> str | None:
    bare = re.sub(r"[^a-z0-9 ]", "", text.lower())
    for number, word in enumerate(_ORDINALS, start=1):
        suffix = {1: "st", 2: "nd", 3: "rd"}.get(number, "th")
        if re.search(rf"\b(?:{number}{suffix}|{word.lower()})\s+(?:p\s?m\b|prin\w*\s+mer\w*)", bare):
            return f"{word} Principal Meridian"
    for name in _MERIDIANS[len(_ORDINALS) :]:
        stem = re.sub(r"[^a-z ]", "", name.lower()).removesuffix(" meridian")
        if re.search(rf"\b{stem}\s+(?:prin\w*\s+)?(?:mer\w*|p\s?m\b)", bare):
            return name
    return None
