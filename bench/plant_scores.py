"""Scores of probabilities: log loss, calibration, how often a sure call is right."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Scores:
    """Scores over plants: mean -log p(truth), expected calibration error of the leading name, accuracies."""

    plants: int
    right: float
    log_loss: float
    calibration_error: float
    sure: float
    sure_right: float
    hunted_right: float


def score(posterior: np.ndarray, truth: np.ndarray, hunted: np.ndarray) -> Scores:
    """`posterior` (plants, names); `truth` (plants,) indices; `hunted` (names,) bool."""
    p = posterior[np.arange(len(truth)), truth]
    top, sureness = posterior.argmax(axis=1), posterior.max(axis=1)
    right = top == truth
    sure = sureness >= 0.9
    called_hunted = posterior @ hunted >= 0.5
    return Scores(
        len(truth),
        float(right.mean()),
        float(-np.log(np.maximum(p, 1e-12)).mean()),
        calibration_error(sureness, right),
        float(sure.mean()),
        float(right[sure].mean()) if sure.any() else float("nan"),
        float((called_hunted == hunted[truth]).mean()),
    )


def calibration_error(sureness: np.ndarray, right: np.ndarray, bins: int = 10) -> float:
    """Expected calibration error of the leading name in bins of equal width."""
    at = np.minimum((sureness * bins).astype(int), bins - 1)
    return float(
        sum(
            abs(sureness[at == b].mean() - right[at == b].mean()) * (at == b).mean()
            for b in range(bins)
            if (at == b).any()
        )
    )
