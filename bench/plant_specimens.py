"""Make-believe plants for the bench of the plant room. Knows the flora's tables and nothing of `tepal.plant`.

Every world differs from the tables, because a real county does: the shares of states are redrawn around the published
ones, the populations of a taxon are shifted together, one look in seventeen is misread, a ruler errs by 8 %, two plants
in a hundred are crosses, and characters that tell partly the same thing go together in one plant.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

REGIONS = ("SE", "CB", "UM", "SP", "NE")
EARLY = ("cotyledon", "seedling_2-4_leaf")
SEX = "plant_sex"
# What is looked at on seed-bearing flowers, and on male ones.
FEMALE = frozenset({"bract_length_female", "bract_tepal_ratio", "bract_vs_flower", "seedhead_feel_female",
                    "tepal_count_female", "tepal_tip_female", "utricle_dehiscence"})  # fmt: skip
MALE = frozenset({"bract_length_male", "seedhead_feel_male"})
# How firmly a table's shares hold in one county, by basis: a Dirichlet of this concentration around them.
CONCENTRATION = {"measured": 40.0, "flora_range": 25.0, "fact_sheet": 15.0, "review": 12.0, "judgement": 8.0}


@dataclass(frozen=True)
class Trouble:
    """How the worlds differ from the tables. The defaults are the ones that the bench reports."""

    misread: float = 0.06
    ruler: float = 0.08
    crosses: float = 0.02
    look_alikes: float = 0.30
    shift_sd: float = 0.35  # of the sd between plants, one draw a taxon and character family and world
    together: float = 0.4  # correlation of looks of one family in one plant
    weights: float = 60.0  # Dirichlet concentration of the stand's shares around the region's
    shares: float = 1.0  # multiplies CONCENTRATION
    # What a plant shows where no flora tells it of its taxon: it does show something, here what a plant of another
    # taxon of the place would. With False there is no such look, so that having the look at all gives the taxon away.
    shows_untold: bool = True
    missing: float = 0.0  # share of the looks that cannot be had: chewed, dusty, not grown yet
    sexed: bool = False  # a male plant has no seed head, a female one no male head

    def __post_init__(self) -> None:
        if not 0 <= self.missing < 1:
            raise ValueError(f"a share of looks that cannot be had lies in [0, 1), got {self.missing}")


@dataclass(frozen=True)
class Specimen:
    """One plant: what it is, and every look that could be had of it."""

    id: str
    world: int
    region: str
    stage: str
    truth: str
    looks: Mapping[str, Any] = field(repr=False)


def rows_of(flora: Any, stage: str) -> dict[str, dict[str, Any]]:
    """character -> code -> row (shares or measure) at a stage; a row of stage `any` where there is no other."""
    rows: dict[str, dict[str, Any]] = {}
    for wanted in ("any", stage):
        for table in (flora.shares, flora.measures):
            for (code, character, at), row in table.items():
                if at == wanted and flora.characters[character].look:
                    rows.setdefault(character, {})[code] = row
    return rows


class World:
    """One county's plants at one stage."""

    def __init__(self, flora: Any, stage: str, region: str, rng: np.random.Generator, trouble: Trouble) -> None:
        self.flora, self.stage, self.region, self.rng, self.trouble = flora, stage, region, rng, trouble
        self.rows = rows_of(flora, stage)
        self.states = {
            name: tuple(s for s in flora.characters[name].states if any(r.shares.get(s, 0) > 0 for r in rows.values()))
            for name, rows in self.rows.items()
            if flora.characters[name].kind == "categorical"
        }
        self.codes, self.weights = self._taxa()
        self.pairs = self._pairs()
        self.shares: dict[tuple[str, str], np.ndarray] = {}
        self.means: dict[tuple[str, str], float] = {}
        self._redraw()

    def _taxa(self) -> tuple[list[str], np.ndarray]:
        taxa = self.flora.taxa
        pigweeds = [c for c, t in taxa.items() if t.pigweed]
        others = [c for c, t in taxa.items() if not t.pigweed] if self.stage in EARLY else []
        base = np.array([taxa[c].weights[self.region] for c in pigweeds])
        share = self.rng.dirichlet(self.trouble.weights * base / base.sum() + 1e-6)
        if others:
            alike = self.rng.dirichlet(np.full(len(others), 5.0))
            share = np.concatenate([share * (1 - self.trouble.look_alikes), alike * self.trouble.look_alikes])
        return pigweeds + others, share

    def _pairs(self) -> tuple[list[tuple[str, str]], np.ndarray]:
        weight = dict(zip(self.codes, self.weights, strict=True))
        found: dict[tuple[str, str], float] = {}
        for cross in self.flora.crosses:
            a, b = sorted((cross.female, cross.male))
            if cross.found and a in weight and b in weight and a != b:
                found[a, b] = math.sqrt(weight[a] * weight[b])
        share = np.array(list(found.values()))
        return list(found), share / share.sum() if share.sum() > 0 else share

    def _redraw(self) -> None:
        for name, rows in self.rows.items():
            for code, row in rows.items():
                if name in self.states:
                    p = np.array([row.shares.get(s, 0.0) for s in self.states[name]])
                    c = CONCENTRATION[row.basis] * self.trouble.shares
                    self.shares[name, code] = self.rng.dirichlet(c * p / p.sum() + 1e-4)
        families = {}
        for name, rows in self.rows.items():
            if name in self.states:
                continue
            for code, row in rows.items():
                key = (code, self.flora.characters[name].overlap or name)
                shared = families.setdefault(key, self.rng.standard_normal())
                shift = self.trouble.shift_sd * (math.sqrt(0.6) * shared + math.sqrt(0.4) * self.rng.standard_normal())
                self.means[name, code] = row.mean + shift * row.sd

    def plant(self, number: int, world: int) -> Specimen:
        rng = self.rng
        if len(self.pairs[0]) and rng.random() < self.trouble.crosses:
            parents = self.pairs[0][rng.choice(len(self.pairs[0]), p=self.pairs[1])]
            truth = "x".join(parents)
        else:
            parents = (self.codes[rng.choice(len(self.codes), p=self.weights)],)
            truth = parents[0]
        latent: dict[str, float] = {}
        looks: dict[str, Any] = {}
        sex = self._sex(parents)
        hidden = {"male_only": FEMALE, "female_only": MALE}.get(sex or "", frozenset())
        for name in self.rows:
            character = self.flora.characters[name]
            if name in hidden or (self.trouble.missing and rng.random() < self.trouble.missing):
                continue
            u = latent.setdefault(character.overlap or name, rng.standard_normal())
            z = math.sqrt(self.trouble.together) * u + math.sqrt(1 - self.trouble.together) * rng.standard_normal()
            value = self._misread(name, sex) if sex and name == SEX else self._value(name, parents, z)
            if value is not None:
                looks[name] = value
        return Specimen(f"w{world}-{number}", world, self.region, self.stage, truth, looks)

    def _sex(self, parents: tuple[str, ...]) -> str | None:
        """The sex of one plant, None where worlds do without or no flora tells it."""
        told = [p for p in parents if (SEX, p) in self.shares]
        if not (self.trouble.sexed and told):
            return None
        shares = self.shares[SEX, told[self.rng.integers(len(told))]]
        return str(self.states[SEX][int(self.rng.choice(len(shares), p=shares / shares.sum()))])

    def _stand_in(self, name: str) -> str:
        told = [i for i, code in enumerate(self.codes) if code in self.rows[name]]
        share = self.weights[told]
        return self.codes[told[int(self.rng.choice(len(told), p=share / share.sum()))]]

    def _value(self, name: str, parents: tuple[str, ...], z: float) -> Any:
        known = [p for p in parents if p in self.rows[name]]
        if len(known) < len(parents):
            if not self.trouble.shows_untold:
                return None
            known = [self._stand_in(name)]
        rng = self.rng
        if name in self.states:
            p = self.shares[name, known[rng.integers(len(known))]]
            states = self.states[name]
            return self._misread(name, states[min(int(np.searchsorted(np.cumsum(p), _phi(z))), len(states) - 1)])
        rows = [self.rows[name][p] for p in known]
        mean = float(np.mean([self.means[name, code] for code in known]))
        sd = float(np.mean([r.sd for r in rows]))
        value = min(max(mean + sd * z, min(r.low for r in rows)), max(r.high for r in rows))
        return round(max(value * (1 + self.trouble.ruler * rng.standard_normal()), 0.001), 3)

    def _misread(self, name: str, state: str) -> str:
        states, rng = self.states[name], self.rng
        at = states.index(state)
        if len(states) > 1 and rng.random() < self.trouble.misread:
            at = (at + int(rng.integers(1, len(states)))) % len(states)
        return states[at]


def _phi(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2))


def specimens(
    flora: Any, stage: str, *, worlds: int, plants: int, seed: int, trouble: Trouble | None = None
) -> Iterator[Specimen]:
    """`worlds` counties, one after another through the regions, `plants` of each."""
    trouble = trouble or Trouble()
    for world in range(worlds):
        rng = np.random.default_rng([seed, world])
        county = World(flora, stage, REGIONS[world % len(REGIONS)], rng, trouble)
        for number in range(plants):
            yield county.plant(number, world)


def some_looks(specimen: Specimen, rng: np.random.Generator, low: int = 4, high: int = 8) -> dict[str, Any]:
    """A random set of `low` to `high` of a specimen's looks."""
    names = sorted(specimen.looks)
    n = min(int(rng.integers(low, high + 1)), len(names))
    return {name: specimen.looks[name] for name in rng.choice(names, n, replace=False)}
