"""Puts this folder on the path, so that the tests can share the readings of `_advice_cases`."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
