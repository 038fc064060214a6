"""Seasons ahead: seed in the ground, plants, genes, yield and money under a programme, with their doubt.

Floor 2. A programme in, draws by year out; the ledger and the screen are not known here.
"""

from tepal.years._amounts_told import land_unit, money, money_here
from tepal.years._executor import Cluster, InTurn, Processes, Runs
from tepal.years._json import to_json
from tepal.years._matters import SEASONS, Matter, stands_on, what_matters
from tepal.years._notes import notes
from tepal.years._project import project
from tepal.years._records import Projection, Tracks
from tepal.years._sentences import compared, mattering, sentences

__all__ = [
    "SEASONS",
    "Cluster",
    "InTurn",
    "Matter",
    "Processes",
    "Projection",
    "Runs",
    "Tracks",
    "compared",
    "land_unit",
    "mattering",
    "money",
    "money_here",
    "notes",
    "project",
    "sentences",
    "stands_on",
    "to_json",
    "what_matters",
]
