"""A management programme as a file: what is done in one field, season after season, each value with its doubt.

Floor 1. The form stands in docs/rooms/programme.md. Nothing is looked up here: a missing value stays `None`, and the
room that reckons takes the published one for it.
"""

from tepal.programme._amounts import Amount
from tepal.programme._draft import Block, Draft, DraftSeason, Line, draft_text
from tepal.programme._kinds import CROPS, GROUPS_BEYOND
from tepal.programme._read import read_programme, read_programme_text
from tepal.programme._records import (
    Cultivation,
    Cut,
    Field,
    Harvest,
    Local,
    Locus,
    Metabolic,
    Money,
    Post,
    Programme,
    Pull,
    Residual,
    Season,
    Start,
)

__all__ = [
    "CROPS",
    "GROUPS_BEYOND",
    "Amount",
    "Block",
    "Cultivation",
    "Cut",
    "Draft",
    "DraftSeason",
    "Field",
    "Harvest",
    "Line",
    "Local",
    "Locus",
    "Metabolic",
    "Money",
    "Post",
    "Programme",
    "Pull",
    "Residual",
    "Season",
    "Start",
    "draft_text",
    "read_programme",
    "read_programme_text",
]
