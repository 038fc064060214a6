"""What is published and judged about a weed group: taxa, characters, crosses, growth, seed, control, sources.

Floor 1. A group is a folder of tables; `load` reads and validates it. A new group is a new folder, no code.
"""

from tepal.flora._acting import Inseparable, Loss
from tepal.flora._crops import CROP_KINDS, CropKind, CropRow, Season
from tepal.flora._describe import list_facts, source_facts, taxon_facts
from tepal.flora._flora import Flora
from tepal.flora._law import LISTED, LawRow, Nesting, replace_law
from tepal.flora._load import groups, load
from tepal.flora._parameters import Declared, Parameter
from tepal.flora._plates import PlateRow
from tepal.flora._records import (
    ALL_TAXA,
    REGIONS,
    STAGES,
    Action,
    ActiveIngredient,
    Character,
    Cross,
    Measure,
    Overlap,
    PartialDay,
    PublishedFact,
    Region,
    RowStage,
    Source,
    Stage,
    StateShares,
    Taxon,
)
from tepal.flora._resistance import RESISTANCE_KINDS, ResistanceKind, ResistanceRow
from tepal.flora._telling import Telling, telling
from tepal.flora._wording import BASIS_WORDS, REGION_WORDS, STAGE_WORDS, messages, tell_list, tell_source, tell_taxon

__all__ = [
    "ALL_TAXA",
    "BASIS_WORDS",
    "CROP_KINDS",
    "LISTED",
    "REGIONS",
    "REGION_WORDS",
    "RESISTANCE_KINDS",
    "STAGES",
    "STAGE_WORDS",
    "Action",
    "ActiveIngredient",
    "Character",
    "CropKind",
    "CropRow",
    "Cross",
    "Declared",
    "Flora",
    "Inseparable",
    "LawRow",
    "Loss",
    "Measure",
    "Nesting",
    "Overlap",
    "Parameter",
    "PartialDay",
    "PlateRow",
    "PublishedFact",
    "Region",
    "ResistanceKind",
    "ResistanceRow",
    "RowStage",
    "Season",
    "Source",
    "Stage",
    "StateShares",
    "Taxon",
    "Telling",
    "groups",
    "list_facts",
    "load",
    "messages",
    "replace_law",
    "source_facts",
    "taxon_facts",
    "tell_list",
    "tell_source",
    "tell_taxon",
    "telling",
]
