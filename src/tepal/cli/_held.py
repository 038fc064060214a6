"""What a ledger or a backup of it holds, in words."""

from __future__ import annotations

from collections.abc import Mapping

from tepal.words import Words


def held_in_words(words: Words, tables: Mapping[str, int], originals: int) -> dict[str, str]:
    """`entries` and `photos`, counted, as they are filled into a sentence."""
    return {
        "entries": words.plural("{count} entry", "{count} entries", tables.get("entry", 0)),
        "photos": words.plural("{count} photo or voice note", "{count} photos and voice notes", originals),
    }
