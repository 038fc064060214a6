"""`write`: a reading and its advice to a letter in all three forms."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from tepal.advice import Advice
from tepal.advice import for_reader as advice_for
from tepal.doubt import Provenance
from tepal.flora import Flora
from tepal.ledger import Entry
from tepal.letter._data import LeafPhoto, Signer
from tepal.letter._from_reading import letter_data
from tepal.letter._letter import Letter, render
from tepal.letter._readers import Reader, for_reader
from tepal.reading import Reading
from tepal.words import Words


def write(
    reading: Reading,
    advice: Advice,
    *,
    entries: Sequence[Entry],
    flora: Flora,
    words: Words,
    signer: Signer | None = None,
    office: str = "",
    to: str = "",
    reader: Reader = "tenant",
    leaf: LeafPhoto | None = None,
) -> Letter:
    """The letter about one site. Same reading, advice, entries and words: same bytes.

    Parameters
    ----------
    entries
        Those that stand on the day (`Ledger.standing`), for the map and the days on which somebody looked.
    signer
        Who answers for it; without one there is room to sign.
    reader
        Whose letter it is. The tenant's is the full one; the others get what is theirs and nothing about others.
    office, to
        The sending office and the reader, as lines of the letter's head; empty lines are left to be written.
    leaf
        A leaf of this place, measured on its photo (`leaf_photo`): shown behind the letter, to tenant and owner.
    """
    if reader != "tenant":
        advice = advice_for(advice, reader, flora=flora)
    stands_on = Provenance()
    for item in (*reading.why.values(), *(item.stands_on for item in advice.actions + advice.do_nots)):
        stands_on = stands_on | item
    data = letter_data(
        reading,
        advice,
        entries=entries,
        flora=flora,
        signer=signer,
        office=office,
        to=to,
        reader=reader,
        stands_on=stands_on,
    )
    data = replace(data, leaf=leaf)
    return render(for_reader(data, reader, reading, advice), words)
