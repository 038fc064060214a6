"""The command line: parse, call a room, print. Floor 8, and the only place where two rooms of a floor are joined."""

from tepal.cli._app import main

__all__ = ["main"]
