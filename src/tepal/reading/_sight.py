"""Names written beside counts, without a look that could be checked."""

from __future__ import annotations

from tepal.ledger import Stop, Walk


def sight_names(body: Stop | Walk) -> list[str]:
    """The taxa that whoever counted or walked has named."""
    if isinstance(body, Walk):
        # Who looked for one taxon alone and found some has named what was found.
        return list(body.looked_for) if body.found and len(body.looked_for) == 1 else []
    return [tally.taxon for tally in body.counts if tally.count and tally.taxon not in ("pigweed", "other")]
