"""Numbers of the model that no flora publishes, with how they were got; and the reader's reliability."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import get_args

from tepal.doubt import Basis
from tepal.tables import Refused, read_csv

_TABLE = Path(__file__).with_name("settings.csv")


@dataclass(frozen=True, slots=True, eq=False)
class Settings:
    """Values by (name, key); `basis` and `note` of each stand in the table.

    Compared and hashed by identity, so that compiled likelihoods can be cached by it.
    """

    values: Mapping[tuple[str, str], float]
    basis: Mapping[tuple[str, str], Basis]

    def __call__(self, name: str, key: str = "") -> float:
        """The value of a setting; KeyError when there is none."""
        return self.values[name, key]

    def changed(self, changes: Mapping[tuple[str, str], float]) -> Settings:
        """The same settings with some values replaced (the temper's estimation uses this)."""
        unknown = [key for key in changes if key not in self.values]
        if unknown:
            raise KeyError(f"no setting {unknown[0]}")
        return Settings(MappingProxyType({**self.values, **changes}), self.basis)


@lru_cache(maxsize=8)
def load_settings(path: Path = _TABLE) -> Settings:
    """Read a table of settings: columns name, key, value, low, high, basis, source, note.

    Raises
    ------
    Refused
        If a column is missing, a value lies outside its own [low, high], or a setting stands twice.
    """
    table = read_csv(path)
    table.need(("name", "key", "value", "low", "high", "basis", "source", "note"))
    values: dict[tuple[str, str], float] = {}
    bases: dict[tuple[str, str], Basis] = {}
    for row in table:
        key = (row.text("name"), row.text("key", ""))
        if key in values:
            raise Refused(
                f"{' '.join(key).strip()} again",
                where=row.where(),
                rule="A setting stands once.",
                step="Drop one of the two.",
            )
        values[key] = row.number("value", low=row.number("low"), high=row.number("high"))
        basis = row.text("basis")
        if basis not in get_args(Basis):
            raise Refused(
                f"basis {basis!r}",
                where=row.where("basis"),
                rule=f"A basis is one of {', '.join(get_args(Basis))}.",
                step="Correct the cell.",
            )
        bases[key] = basis  # type: ignore[assignment]
    return Settings(MappingProxyType(values), MappingProxyType(bases))


@dataclass(frozen=True, slots=True)
class Reader:
    """How reliably a person reads: a Beta over "reads as well as a careful reader", from drills and laboratory results.

    `right` and `wrong` are its two counts. The start, 199 to 1, is a careful reader: the misreading of each character
    stands in the flora's table and this comes on top.
    """

    right: float = 199.0
    wrong: float = 1.0

    def __post_init__(self) -> None:
        if not (self.right > 0 and self.wrong > 0):
            raise ValueError(f"a Beta needs two positive counts, got {self.right}, {self.wrong}")

    @property
    def reliability(self) -> float:
        """The mean of the Beta."""
        return self.right / (self.right + self.wrong)

    def after(self, *, right: int = 0, wrong: int = 0) -> Reader:
        """The reader after so many answers checked by a drill or a laboratory."""
        return Reader(self.right + right, self.wrong + wrong)
