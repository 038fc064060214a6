"""Peers for the plant room: plain naive Bayes on the published shares, the same asking by entropy, and a fixed key."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Any

import numpy as np

from plant_specimens import EARLY, REGIONS, rows_of

MISREAD, RULER = 0.06, 0.08


class NaiveBayes:
    """Every look independent, shares and normal densities as published, one chance of misreading; no crosses."""

    def __init__(self, flora: Any, stage: str) -> None:
        self.rows = rows_of(flora, stage)
        self.characters = flora.characters
        alike = [code for code in flora.look_alikes() if stage in EARLY]
        share = flora.look_alike_weight(stage) if alike else 0.0
        self.prior = {
            region: {code: max((1 - share) * w, 1e-6) for code, w in flora.weights(region).items()}
            | {code: share / len(alike) for code in alike}
            for region in (*REGIONS, None)
        }

    def posterior(self, looks: Mapping[str, Any], region: str | None) -> dict[str, float]:
        logs = {code: math.log(weight) for code, weight in self.prior[region].items()}
        for name, value in looks.items():
            rows = self.rows.get(name, {})
            told = {code: self._likelihood(name, row, value) for code, row in rows.items() if code in logs}
            mean = sum(told.values()) / len(told)
            for code in logs:
                logs[code] += math.log(told.get(code, mean))
        top = max(logs.values())
        whole = sum(math.exp(v - top) for v in logs.values())
        return {code: math.exp(v - top) / whole for code, v in logs.items()}

    def _likelihood(self, name: str, row: Any, value: Any) -> float:
        states = self.characters[name].states
        if states:
            return row.shares.get(value, 0.0) * (1 - MISREAD) + MISREAD / len(states)
        sd = math.hypot(row.sd, RULER * row.mean)
        return max(math.exp(-0.5 * ((value - row.mean) / sd) ** 2) / sd, 1e-12)


class Greedy:
    """What an afternoon gives: naive Bayes that asks for the look with the least expected entropy after it, whatever it
    takes, until one name has `sure`, or after `most` looks."""

    def __init__(self, flora: Any, stage: str, *, sure: float = 0.95, most: int = 8, nodes: int = 20) -> None:
        self.bayes, self.sure, self.most = NaiveBayes(flora, stage), sure, most
        self.tables: dict[str, np.ndarray] = {}
        codes = list(self.bayes.prior[None])
        for name, rows in self.bayes.rows.items():
            values: Any = self.bayes.characters[name].states
            if not values:
                low, high = (f(r.mean + k * r.sd for r in rows.values()) for f, k in ((min, -3), (max, 3)))
                values = np.linspace(max(low, 0.0), high, nodes)
            told = {code: [self.bayes._likelihood(name, row, v) for v in values] for code, row in rows.items()}
            mean = np.mean(list(told.values()), axis=0)
            table = np.array([told.get(code, mean) for code in codes]).T
            self.tables[name] = table / table.sum(axis=0)

    def name(self, looks: Mapping[str, Any], region: str | None) -> tuple[dict[str, float], int]:
        """Probabilities of a plant of which these looks can be had, and how many were asked for."""
        seen: dict[str, Any] = {}
        asked: set[str] = set()
        while True:
            found = self.bayes.posterior(seen, region)
            p = np.array(list(found.values()))
            if p.max() >= self.sure or len(asked) == min(self.most, len(self.tables)):
                return found, len(asked)
            after = {name: _entropy_after(p, table) for name, table in self.tables.items() if name not in asked}
            best = min(after, key=lambda name: after[name])
            asked.add(best)
            if best in looks:
                seen[best] = looks[best]


def _entropy_after(p: np.ndarray, table: np.ndarray) -> float:
    """Mean entropy of the names after a look, `table` = chance of each outcome by name, shape = (outcomes, names)."""
    joint = table * p
    return float(-(joint * np.log(np.maximum(joint / joint.sum(axis=1, keepdims=True), 1e-300))).sum())


def key_name(key: Mapping[str, Any], looks: Mapping[str, Any]) -> tuple[str | None, int]:
    """Where a fixed key ends for a plant (None where it has no branch), and how many questions it took."""
    nodes = {node["id"]: node for node in key["nodes"]}
    at, asked = key["root"], 0
    while at in nodes:
        node = nodes[at]
        asked += 1
        value = looks.get(node["question"])
        at = next((b["to"] for b in node["branches"] if value is not None and _holds(b["if"], value)), None)
        if at is None:
            return None, asked
    return at, asked


def _holds(condition: str, value: Any) -> bool:
    if isinstance(value, str):
        return condition == value
    sign, number = re.fullmatch(r"(<=|>=|<|>)([\d.]+)", condition).groups()
    edge = float(number)
    return bool({"<=": np.less_equal, ">=": np.greater_equal, "<": np.less, ">": np.greater}[sign](value, edge))
