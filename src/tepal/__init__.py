"""Tepal: a county's weed record that reckons.

Observations are kept; everything else is computed from them. Each package below is one room of the house; imports go
down a floor or stay in a room (see CONTRIBUTING.md).
"""

__version__ = "0.1.0"
