"""Seasons ahead: seed in the ground, plants, genes, yield and money under a programme, with their doubt.

Floor 2. A programme in, draws by year out; the ledger and the screen are not known here.
"""

from tepal.years._executor import Cluster, InTurn, Processes, Runs
from tepal.years._json import to_json
from tepal.years._project import project
from tepal.years._records import Projection, Tracks
from tepal.years._sentences import sentences

__all__ = ["Cluster", "InTurn", "Processes", "Projection", "Runs", "Tracks", "project", "sentences", "to_json"]
