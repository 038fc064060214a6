"""Letters: what was seen and reckoned, told so that a grower can act on it.

Floor 6. One `LetterData` becomes a tagged PDF, a page and a text of a few lines.
"""

from tepal.letter._by_text import ask_for_photos, text_reply
from tepal.letter._crew import crew_card
from tepal.letter._data import (
    Closing,
    Count,
    Done,
    Feature,
    Find,
    LeafPhoto,
    LetterData,
    Looks,
    MapData,
    Part,
    Plant,
    Record,
    Said,
    Signer,
    Stop,
    Task,
    Visit,
)
from tepal.letter._fonts import embedded
from tepal.letter._leaf_photo import leaf_photo
from tepal.letter._letter import Letter, render
from tepal.letter._map import Drawn
from tepal.letter._outlook import Outlook, outlook, save_outlook
from tepal.letter._readers import READERS, Reader, for_reader
from tepal.letter._save import entry_of, save
from tepal.letter._site_map import site_map
from tepal.letter._write import write

__all__ = [
    "READERS",
    "Closing",
    "Count",
    "Done",
    "Drawn",
    "Feature",
    "Find",
    "LeafPhoto",
    "Letter",
    "LetterData",
    "Looks",
    "MapData",
    "Outlook",
    "Part",
    "Plant",
    "Reader",
    "Record",
    "Said",
    "Signer",
    "Stop",
    "Task",
    "Visit",
    "ask_for_photos",
    "crew_card",
    "embedded",
    "entry_of",
    "for_reader",
    "leaf_photo",
    "outlook",
    "render",
    "save",
    "save_outlook",
    "site_map",
    "text_reply",
    "write",
]
