"""What stands behind the facts that a rule asks for: entries, and sources of their own."""

from __future__ import annotations

from collections.abc import Mapping

from tepal.doubt import Provenance

# Which part of a reading a fact comes from, by how its key begins; the rest from the activities and the whole.
_PARTS = (
    ("/taxa", ("leading", "p_", "named_plants", "proved.", "first_find.")),
    ("/stand", ("density_", "total", "seen_share", "seen_any", "none_seen", "counted", "reported_only")),
    ("/windows", ("window.",)),
    ("/place", ("ground", "county", "state", "region", "hectares", "waterway", "consent", "crop", "trait", "planted")),
)


def told_by(keys: tuple[str, ...], why: Mapping[str, Provenance]) -> Provenance:
    """What stands behind those facts that have a source of their own, such as the law."""
    found = Provenance()
    for key in keys:
        found = found | why.get(f"/facts/{key}", Provenance())
    return found


def entries_behind(keys: tuple[str, ...], why: Mapping[str, Provenance]) -> tuple[str, ...]:
    """Ids of the entries behind the parts of the reading that hold these facts."""
    starts = {
        next((part for part, begins in _PARTS if key.startswith(begins)), "/facts")
        for key in keys
        if key not in ("as_of", "month")
    }
    found = [p.entries for pointer, p in why.items() if any(f"{pointer}/".startswith(f"{s}/") for s in starts)]
    return tuple(dict.fromkeys(entry for entries in found for entry in entries))
