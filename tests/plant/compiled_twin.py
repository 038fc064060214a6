"""The model of `tepal plant` again, from the compiled tables alone: plain Python, no numpy, nothing of the project.

Written from docs/rooms/plant.md ("To the last digit") and docs/compiled-tables.md. Usage: `Twin(json.load(…))`.
"""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

FLOOR = 1e-280
LEAST_GAIN = 1e-9
CANNOT_TELL, UNKNOWN = "cannot_tell", "unknown"


class Twin:
    def __init__(self, tables: dict[str, Any]) -> None:
        self.t = tables
        self.names: list[str] = tables["names"]
        self.taxa: int = tables["taxa"]
        self.set: dict[str, float] = tables["settings"]
        self.stages: list[str] = list(tables["stages"])
        self.known: dict[Any, Any] = {}  # what was reckoned before

    # ---------------------------------------------------------------------------------------------- what is told

    def rows(self, name: str, stage: str) -> dict[str, list[float]] | None:
        origin = self.t["stages"][stage]["from"].get(name)
        if origin is None:
            return None
        found = self.t["rows"][name][origin]
        return self.t["rows"][name][found] if isinstance(found, str) else found

    def is_own(self, name: str, stage: str) -> bool:
        return self.t["stages"][stage]["from"].get(name) == stage

    def overlap(self, name: str) -> str | None:
        return self.t["characters"][name].get("overlap")

    def binned(self, name: str) -> str | None:
        return self.t["characters"][name].get("binned_from")

    def absent(self, name: str, looks: dict[str, Any]) -> bool:
        """Whether a plant with these answers has nothing there to look at."""
        for other, states in self.t["characters"][name].get("absent_where", {}).items():
            given = looks.get(other, [])
            answers = {a for a in (given if isinstance(given, list) else [given]) if a != CANNOT_TELL}
            if len(answers) == 1 and answers <= set(states):
                return True
        return False

    def state_likelihoods(self, name: str, stage: str) -> list[list[float | None]]:
        """By state, by name; None where nothing is told."""
        if (name, stage) in self.known:
            return self.known[name, stage]
        rows, character = self.rows(name, stage) or {}, self.t["characters"][name]
        size, base = len(character["states"]), self.set["base_mass"]
        right = (1 - character["misread"] * self.set["misread_scale"]) * self.set["reliability"]
        found: list[list[float | None]] = []
        for at in range(size):
            p: list[float | None] = []
            for code in self.names[: self.taxa]:
                row = rows.get(code)
                p.append(None if row is None else (row[0] * row[1 + at] + base / size) / (row[0] + base))
            told = [value for value in p if value is not None]
            for a, b in self.t["crosses"]:
                one, two = p[a], p[b]
                p.append(None if one is None or two is None else (one + two) / 2)
            p.append((sum(told) / len(told) + 1 / size) / 2)
            found.append([None if v is None else right * v + (1 - right) * (1 - v) / (size - 1) for v in p])
        self.known[name, stage] = found
        return found

    def density(self, name: str, stage: str, x: float, leaves: int) -> list[float | None]:
        rows, cv = self.rows(name, stage) or {}, self.t["characters"][name]["reading_cv"]
        leaf = self.set["leaf_correlation"]
        parts = [rows.get(code) for code in self.names[: self.taxa]]
        told = [part for part in parts if part is not None]

        def of(mean: float, sd: float, doubt: float) -> float:
            spread = sd**2 * (leaf + (1 - leaf) / leaves) + doubt**2 + (cv * mean) ** 2 / leaves
            return self.student(x, mean, math.sqrt(spread))

        centre = math.fsum(part[0] for part in told) / len(told)
        wide = math.fsum((part[0] - centre) ** 2 + part[1] ** 2 for part in told) / len(told)
        anything = self.student(x, centre, 2 * math.sqrt(wide))
        p: list[float | None] = [None if part is None else of(part[0], part[1], part[1] * part[2]) for part in parts]
        for a, b in self.t["crosses"]:
            one, two, first, second = parts[a], parts[b], p[a], p[b]
            if one is None or two is None or first is None or second is None:
                p.append(None)
                continue
            doubt = (one[1] * one[2] + two[1] * two[2]) / 2
            middle = of((one[0] + two[0]) / 2, (one[1] + two[1]) / 2, doubt)
            p.append(middle / 2 + first / 4 + second / 4)
        p.append(anything)
        r = self.set["reliability"]
        return [None if v is None else r * v + (1 - r) * anything for v in p]

    def student(self, x: float, mean: float, scale: float) -> float:
        n = self.set["freedom"]
        z = (x - mean) / scale
        top = math.lgamma((n + 1) / 2) - math.lgamma(n / 2) - math.log(n * math.pi) / 2
        return math.exp(top - math.log(scale) - (n + 1) / 2 * math.log1p(z * z / n))

    def filled(self, values: list[float | None], prior: list[float]) -> list[float]:
        weights = [p for p, v in zip(prior, values, strict=True) if v is not None]
        if sum(weights) <= 0:
            weights = [1.0] * len(weights)
        told = [v for v in values if v is not None]
        pooled = math.fsum(w * v for w, v in zip(weights, told, strict=True)) / math.fsum(weights)
        return [pooled if v is None else v for v in values]

    # -------------------------------------------------------------------------------------------------- posterior

    def plain(self, looks: dict[str, Any]) -> dict[str, tuple[list[tuple[str, float]], float, int]]:
        """Looks that tell something: (state, share) pairs, mean, number of distinct answers."""
        found = {}
        for name, given in looks.items():
            answers = [a for a in (given if isinstance(given, list) else [given]) if a != CANNOT_TELL]
            if not answers:
                continue
            distinct = sorted(set(answers))
            if "states" in self.t["characters"][name]:
                pairs = [(state, answers.count(state) / len(answers)) for state in distinct]
                found[name] = (pairs, math.nan, len(distinct))
            else:
                found[name] = ([], math.fsum(distinct) / len(distinct), len(distinct))
        return found

    def log_evidence(self, looks: dict[str, Any], stage: str, prior: list[float]) -> tuple[list[float], int]:
        """Sum of weighted log likelihoods by name; how many looks are not the stage's own."""
        plain = self.plain(looks)
        counts = [name for name in plain if self.rows(name, stage) is not None and self.binned(name) not in plain]
        total = [0.0] * len(self.names)
        for name in counts:
            pairs, value, distinct = plain[name]
            group = self.overlap(name)
            n = sum(self.overlap(other) == group for other in counts) if group else 1
            weight = self.t["stages"][stage]["temper"] / (1 + (n - 1) * self.set["overlap_correlation"])
            if not self.is_own(name, stage):
                weight *= self.set["borrowed_weight"]
            if pairs:
                weight *= distinct / (1 + (distinct - 1) * self.set["leaf_correlation"])
                by_state = self.state_likelihoods(name, stage)
                states = self.t["characters"][name]["states"]
                parts = [(share, by_state[states.index(state)]) for state, share in pairs]
            else:
                parts = [(1.0, self.density(name, stage, value, distinct))]
            for share, likelihood in parts:
                raised = self.filled([None if v is None else v**weight for v in likelihood], prior)
                for at, v in enumerate(raised):
                    total[at] += share * math.log(max(v, FLOOR))
        return total, sum(not self.is_own(name, stage) for name in plain)

    def posterior(self, looks: dict[str, Any], stage: str, region: str | None) -> tuple[list[float], str]:
        """Probabilities by name, and the likeliest stage."""
        stages = self.stages if stage == UNKNOWN else [stage]
        logs = []
        for at in stages:
            prior = self.t["stages"][at]["priors"][region or ""]
            evidence, strays = self.log_evidence(looks, at, prior)
            stray = strays * math.log(self.set["stage_misfit"]) if stage == UNKNOWN else 0.0
            logs.append(
                [(math.log(p) if p > 0 else -math.inf) + e + stray for p, e in zip(prior, evidence, strict=True)]
            )
        top = max(max(row) for row in logs)
        weights = [[math.exp(v - top) for v in row] for row in logs]
        whole = math.fsum(v for row in weights for v in row)
        by_stage = [round(math.fsum(row) / whole, 9) for row in weights]
        middle = len(stages) // 2
        lead = max(range(len(stages)), key=lambda at: (by_stage[at], -abs(at - middle), -at))
        return [math.fsum(row[k] for row in weights) / whole for k in range(len(self.names))], stages[lead]

    # ------------------------------------------------------------------------------------------------------- next

    def value(self, p: list[float], loss: list[list[float]]) -> float:
        risks = [math.fsum(cost * q for cost, q in zip(row, p, strict=True)) for row in loss]
        drawn = math.fsum(q * risk for q, risk in zip(p, risks, strict=True))
        h, costs = self.set["drawn_share"], self.t["costs"]
        doubt = -math.fsum(q * math.log(q) for q in p if q > 0)
        return (1 - h) * min(*risks[: self.taxa], costs["sample"]) + h * drawn + costs["doubt"] * doubt

    def outcomes(self, name: str, stage: str, prior: list[float]) -> tuple[list[list[float]], list[bool]]:
        """Chances of what a look could show: by outcome, by name; each name's sum to 1. Of which names it is told."""
        if "states" in self.t["characters"][name]:
            likelihoods = self.state_likelihoods(name, stage)
        else:
            rows = (self.rows(name, stage) or {}).values()
            reach = [3 * math.sqrt(sd**2 + (sd * q) ** 2) for _, sd, q in rows]
            low = max(min(row[0] - far for row, far in zip(rows, reach, strict=True)), 0.0)
            high = max(row[0] + far for row, far in zip(rows, reach, strict=True))
            n = int(self.set["nodes"])
            likelihoods = [self.density(name, stage, low + (high - low) * i / (n - 1), 1) for i in range(n)]
        known = [v is not None for v in likelihoods[0]]
        full = [self.filled(row, prior) for row in likelihoods]
        sums = [math.fsum(row[k] for row in full) for k in range(len(self.names))]
        return [[v / s for v, s in zip(row, sums, strict=True)] for row in full], known

    def raised(self, name: str, stage: str, region: str | None, before: int) -> tuple[list[list[float]], list[bool]]:
        """The outcomes after `before` other looks of the same group."""
        key = (name, stage, region, before)
        if key not in self.known:
            told = self.t["stages"][stage]
            weight = told["temper"] / (1 + before * self.set["overlap_correlation"])
            rows, known = self.outcomes(name, stage, told["priors"][region or ""])
            powers = [[math.exp(weight * math.log(max(v, FLOOR))) for v in row] for row in rows]
            sums = [math.fsum(row[k] for row in powers) for k in range(len(self.names))]
            self.known[key] = [[v / s for v, s in zip(row, sums, strict=True)] for row in powers], known
        return self.known[key]

    def next_looks(
        self, p: list[float], looks: dict[str, Any], stage: str, region: str | None
    ) -> tuple[list[tuple[str, float]], bool]:
        """Looks with their gain, best first; whether none is worth its seconds."""
        told = self.t["stages"][stage]
        loss = told["loss"]
        asked = list(looks)
        coarse = {self.binned(name) for name in asked} - {None}
        now = self.value(p, loss)
        found = []
        for order, name in enumerate(told["asked"]):
            if name in asked or name in coarse or self.binned(name) in asked or self.absent(name, looks):
                continue
            group = self.overlap(name)
            before = sum(self.overlap(other) == group for other in asked) if group else 0
            rows, known = self.raised(name, stage, region, before)
            after = 0.0
            for row in rows:
                joint = [v * q for v, q in zip(row, p, strict=True)]
                mass = math.fsum(joint)
                if mass > FLOOR:
                    after += mass * self.value([v / mass for v in joint], loss)
            gain = (now - after) * math.fsum(q for q, is_known in zip(p, known, strict=True) if is_known)
            if gain > 0:
                seconds = self.t["characters"][name]["seconds"] + self.set["asking_seconds"]
                found.append((gain / seconds, order, name, gain, seconds))
        found.sort(key=lambda look: (-look[0], look[1]))
        enough = all(gain <= self.t["costs"]["second"] * seconds for *_, gain, seconds in found)
        return [(name, gain) for _, _, name, gain, _ in found], enough


def largest_difference(tables: str, cases: str) -> dict[str, float]:
    """From two files: the largest differences from the golden cases; in how many the order or `enough` differs."""
    twin = Twin(json.loads(Path(tables).read_text(encoding="utf-8")))
    worst = {"cases": 0, "posterior": 0.0, "gain": 0.0, "next": 0, "enough": 0}
    with Path(cases).open(encoding="utf-8") as lines:
        for line in lines:
            case = json.loads(line)
            p, stage = twin.posterior(case["looks"], case["stage"], case["region"])
            following, enough = twin.next_looks(p, case["looks"], stage, case["region"])
            # The cases leave out what gains nothing but rounding.
            following = [(name, gain) for name, gain in following if gain > LEAST_GAIN]
            gains = dict(following)
            worst["cases"] += 1
            worst["posterior"] = max(
                worst["posterior"], *(abs(a - b) for a, b in zip(p, case["posterior"], strict=True))
            )
            for name, gain in zip(case["next"], case["gain"], strict=True):
                worst["gain"] = max(worst["gain"], abs(gains.get(name, math.inf) - gain))
            worst["next"] += [name for name, _ in following] != case["next"]
            worst["enough"] += enough is not case["enough"]
    return worst


if __name__ == "__main__":
    import sys

    print(json.dumps(largest_difference(*sys.argv[1:3])))
