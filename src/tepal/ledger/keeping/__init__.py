"""Keeping a ledger safe: one file with all of it, a ledger from such a file, and a look at whether a ledger is whole.

Tables are read as the migrations make them, whichever they are: what other rooms keep in the same store comes along.
"""

from tepal.ledger.keeping._archive import Archive
from tepal.ledger.keeping._backup import BackedUp, backup
from tepal.ledger.keeping._check import check, check_backup
from tepal.ledger.keeping._findings import Checked, Finding
from tepal.ledger.keeping._restore import Restored, restore

__all__ = ["Archive", "BackedUp", "Checked", "Finding", "Restored", "backup", "check", "check_backup", "restore"]
