"""Write the worked cases into docs/cases.md: `python tools/cases.py [--check] [NAME…]`; names print those cases only.

Each case is a small ledger (`_case_books.py`), read on one day: what the page shows is what the commands would say.
"""

from __future__ import annotations

import sys
import tempfile
import textwrap
from pathlib import Path

from _case_books import CASES, Case
from tepal import advice as advising
from tepal import reading as readings
from tepal.flora import load
from tepal.ledger import Ledger
from tepal.words import Words

PAGE = Path(__file__).resolve().parent.parent / "docs" / "cases.md"
_HEAD = """# Twelve worked cases

What the record of twelve invented places says on one day, and what Tepal advises. Places, people and weather are
made up. The page is written by `tools/cases.py` from the code as it is, so it shows what `tepal reading` would print;
where a spraying failed it shows `tepal programme` too. Read it as a practitioner would: is this what you would do, in
this order, by this day?

"""
_REVIEW = """
## What the first reading of this page changed

The page was read line by line against the published facts by somebody who had not written its first rules. What was
wrong then:

- Six plants in a corner were charged the search of the whole field, and edges were credited with the seed of the
  whole patch.
- Seed of a crowded patch was reckoned as if its plants stood over the whole field: far too much.
- Seedlings of 3 inches got "start with single plants and bag what has flowered", because they were many.
- A first Palmer amaranth among waterhemp was called "the first waterhemp", and nobody was told to look for more of
  it.
- 230 hours of pulling were asked for "today". Past what a farm finds in one go, edges and the worst patch come
  first.
- Hay that had left the place was not called back, and the combine that had left was not followed.
- On conservation ground pulling stood before the leave that it needs, and the agency was to be asked twice.
- In stubble two rules said the same; shortly before harvest a sprayer was sent over wheat; a seed without traits
  was asked for its traits.
- "A week of waiting" told of seed still to ripen where nearly all of it was ripe already.
- Plants in leaf could be in flower for the clock, and plants from before planting set the dates of a field that
  started clean.
- Ten do-nots said some things twice; cautions of summer stood there in any month.

## What the second reading changed

The page and the letters of the demo were read again by somebody else. What was wrong then:

- Two weeks after plants had probably flowered the page said that no seed was ripe. From a week after the early day of
  the first flower seed is now taken to be ripe, and what may have flowered is bagged.
- Seed for a resistance test was to be taken ripe, behind the step that pulls every plant. Leaves come first now,
  today.
- A first Palmer amaranth among thousands of waterhemp was photographed and never pulled, and "every waterhemp plant"
  was pulled before the one that might be Palmer amaranth was flagged.
- Plants of ten inches were to be cultivated. They are to be hoed, or the patch is given up, before they flower.
- Six-foot plants were to be pulled with nothing said of those that will not come. Heads are sacked first, the rest is
  cut below the soil line, and where sacks end stands in the step itself.
- The seed's trait and the tallest plants were to be asked for after the last day on which spraying could help.
- Hay with seed was to be called back within two days: today. What left last year was not named.
- Dates of edges and of giving up a patch stood before seed, not before the flower. Mowing came before pulling.
- After a cut no day to come back was given, and a look at the stumps was asked for although somebody had looked.
- Where six plants were found in eighty acres nobody was told to walk the rest.
- A pigweed that we do not hunt had two weeks' time with ripening seed, and no way to control it was named.
- What came up weeks after a residual was said to have lived through it.
- Texts to a telephone had no caution but the label's, and that of a first find stopped at the photograph.
- Groups 14 and 15 could be taken for sure; spraying and cultivating were asked for on one day without an order.
- Who cleans a combine was not told to lock it out; rows were not to be crossed in knee-high beets.
- A place that is known from a report and a photo had dates of a plant that nobody had named, and a name at 98 in 100
  was called open.
- Counts taken inside a patch made the whole field look like the patch.

## What the third reading changed

- Pulling, cutting and mowing were all for "today": they follow each other now. Of spraying and cultivating one is for
  today, and the page says which fits when. After a cut the stumps are looked at first.
- Leaves of plants that lived through a spray stood behind the step that pulls some of them.
- Two passes through sixty acres that met 25 plants gave 55 plants in all: no walk could leave more than two hundred.
- Palmer amaranth of three inches was to flower the day after. Seedlings are as young as their stage, and plants far
  smaller than they should be as young as they are tall.
- Thousands of seedlings were to be pulled or hoed, at a second a plant. Hands are for what lives through the rest,
  and a foot-tall plant takes as long as it takes.
- Ranges of seed from five million to three billion are told as a middle, and how rough it is.
- Groups 14 and 15 could be read as what is left. What is left is named, and that none of it is sure.
- Owners of stubble and of pastures were told to call their insurance agent. Horses and sheep are named beside cattle.
- What left the place is told with its day. Stories tell what the record holds, and no more.
- On the day of harvest people were sent to pull what the combine had just taken, and nobody was sent to the combine.
  The day after a spraying the tallest were to be measured for the next one; steps that send people in now say when.

## What the fourth reading changed

Fifteen more places that are not on this page were read in the same way: corn, cotton, fallow, a cover crop in spring,
escapes within a waiting time before harvest, a manured field, a first-year planting, a ditch beside hives and a well,
spiny amaranth among cattle, one male in flower, plants that a laboratory found to resist four groups. What was wrong
then:

- Spraying closed when a tenth of the plants were over 4 in. It goes by the tallest: their day is told now.
- Plants measured after a cut were taken together with those measured before it, and the same plants were counted twice.
  Where cut plants flower before the others, they set the dates.
- Counts at stops across a field were taken for counts at a few places in it: too few hours, and plants that crowd each
  other too much to make seed.
- A laboratory had found resistance, and no step said what may still be sprayed, nor which groups are out. Plants that
  were 3 in yesterday got no word on groups at all.
- Over soybean group 6 was counted as a site of action: all it has there is poor on pigweeds. Groups whose trait the
  seed lacks were called left.
- Plants sprayed at 6 in that lived were called resistant by the step beside it, without a word on their height.
- A name that a laboratory had proved was to be settled; a name at 999 in 1,000 was called open. Among seedlings in
  seed leaf "the plant that may be Palmer amaranth" was to be flagged.
- A cover crop was asked for its herbicide traits, and nobody was told to end it, nor to call the insurance agent first.
- A step for what another one leaves was told before it, or due before it, or with its hours and seed a second time.
- One male in flower was to be bagged as if it bore seed, and nobody was sent to look for females.
- Hives and a well drawn on the map were not named. Manure from the same store could be spread on.

What is left: wind is a guess, and a row of the law is as old as the page that was read. How many stand where nobody
looked is the widest number of all. The prices of a week's wait are rough by a factor of ten and more.
"""
_WIDTH = 116


def told(case: Case) -> str:
    """The case as a section of the page."""
    words, flora = Words(), load()
    with tempfile.TemporaryDirectory() as folder, Ledger.open(Path(folder) / "case.ledger", create=True) as book:
        added = book.add(case.entries, weather=[case.weather])
        if added.refused:
            raise SystemExit(f"{case.name}: {added.refused}")
        (site,) = {entry.site for entry in case.entries}
        reading = readings.read(book, str(site), as_of=case.as_of, flora=flora)
        advice = advising.advise(reading, flora=flora)
        lines = [*readings.in_words(reading, words), *advising.in_words(advice, words)]
        if case.sprayings:
            check = advising.check_programme(None, flora=flora, reading=reading)
            lines += ["", "The season's sprayings, checked", "", *advising.plan_in_words(check, words, flora=flora)]
    story = textwrap.fill(case.story, _WIDTH)
    return f"## {case.title}\n\n{story}\n\n```text\n" + "\n".join(_wrapped(line) for line in lines) + "\n```\n"


def _wrapped(line: str) -> str:
    indent = len(line) - len(line.lstrip())
    return "\n".join(textwrap.wrap(line, _WIDTH, subsequent_indent=" " * (indent + 2))) or line


def page() -> str:
    """The whole page."""
    return _HEAD + "\n".join(told(make()) for make in CASES) + _REVIEW


def main() -> int:
    names = [name for name in sys.argv[1:] if not name.startswith("-")]
    if names:
        for make in CASES:
            if make.__name__.replace("_", "-") in names or make.__name__ in names:
                print(told(make()))
        return 0
    new = page()
    old = PAGE.read_text(encoding="utf-8") if PAGE.exists() else ""
    if "--check" in sys.argv[1:]:
        if old != new:
            print("docs/cases.md is out of date: run python tools/cases.py", file=sys.stderr)
        return int(old != new)
    PAGE.write_text(new, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
