"""Fields of which everything is known, so that the answer can be reckoned by hand."""

from __future__ import annotations

from typing import Any

from tepal.flora import Flora
from tepal.programme import Programme, read_programme_text
from tepal.years import Projection, project

KNOWN: dict[str, Any] = {
    "emerges": 0.05,
    "days_after_crop": 0,
    "seedlings_live": 0.9,
    "seed_bearing": 0.5,
    "seeds_per_plant": 200,
    "crowding": 0,
    "eaten": 0.3,
    "seed_survives": 0.45,
    "deep_survives": 0.58,
    "outcrossing": 1,
    "pollen_from_outside": 0,
    "loss_per_plant": 0.15,
    "loss_most": 0.75,
    "year_to_year": 0,
}


def programme(season: str = "", *, head: str = "", start: str = "seedbank_m2 = 100", taxon: str = "AMATU",
              hectares: float = 40, crop: str = "soybean", **local: Any) -> Programme:  # fmt: skip
    """A programme of one season again and again; `season` holds its tactics, `head` its tables of resistance."""
    known = "\n".join(f"{key} = {value}" for key, value in (KNOWN | local).items() if value is not None)
    return read_programme_text(
        f'taxon = "{taxon}"\n[field]\nhectares = {hectares}\n[start]\n{start}\n{head}\n[[season]]\ncrop = "{crop}"\n'
        f"{season}\n[local]\n{known}\n",
        name="known.toml",
    )


def run(flora: Flora, given: Programme, years: int = 3, replicates: int = 40, seed: int = 1) -> Projection:
    return project([given], flora=flora, years=years, replicates=replicates, seed=seed)[0]
