"""The phone's engine against the room itself: golden cases, priors of a place, sentences, what to do today."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from phone.plants._node import run_tests, write_lines
from tepal.cli._guide_session import Session
from tepal.cli._guide_today import today
from tepal.flora import STAGES, load
from tepal.plant import Finding, golden, identify, later, local_prior, look_in_words, sentence, what_settles_it
from tepal.words import Words

FLORA = load()
CASES = 120


def weights(rng: np.random.Generator) -> dict[str, float] | None:
    """A place's weights: as the office reckons them from findings, or any, with crosses and look-alikes among them."""
    kind = rng.integers(0, 3)
    if kind == 0:
        return None
    if kind == 1:
        findings = [
            Finding(
                str(rng.choice(["AMAPA", "AMATU", "AMARE", "AMAPAxAMATU"])), "laboratory", years=float(rng.random())
            )
            for _ in range(int(rng.integers(0, 4)))
        ]
        return local_prior(findings, flora=FLORA, region="UM")
    names = [*FLORA.taxa, "AMAPAxAMATU", "other"]
    some = rng.choice(names, size=int(rng.integers(1, 8)), replace=False).tolist()
    return {code: float(rng.exponential()) for code in some}


def cases() -> list[dict[str, Any]]:
    """What the room says of plants that differ from the golden ones in seed and prior, in both languages and units."""
    rng = np.random.default_rng(7)
    found = []
    for case in golden(FLORA, seed=11, cases=CASES):
        language = str(rng.choice(["en", "es"]))
        words = Words(language, rng.choice(["us", "metric"]))  # type: ignore[arg-type]
        prior = weights(rng)
        call = identify(case["looks"], stage=case["stage"], region=case["region"], prior=prior)
        coming = later(call, FLORA)
        doing = today(call, FLORA, words)
        session = Session(
            FLORA,
            region=case["region"],
            prior=prior,
            stage=case["stage"],
            answers=tuple((name, given) for name, given in case["looks"].items() if not isinstance(given, list)),
        )
        question = session.question
        found.append(
            {
                "stage": case["stage"],
                "region": case["region"],
                "looks": case["looks"],
                "language": language,
                "units": words.units,
                "weights": prior,
                "posterior": call.posterior.tolist(),
                "enough": call.enough,
                "later": [[look.character, look.stage, look.gain, look.chance] for look in coming.looks],
                "laboratory": coming.laboratory,
                "sentence": sentence(call, FLORA, words),
                "settles": what_settles_it(call, FLORA, words),
                "pushes": [[item.character, item.toward, item.against, item.log_odds] for item in call.evidence],
                "seen": {
                    item.character: look_in_words(item.character, item.value, FLORA, words) for item in call.evidence
                },
                "steps": list(doing.steps),
                "cautions": list(doing.cautions),
                "answers": dict(session.answers),
                "question": question and question.character,
                "chances": [[p, words.chance(p)] for p in rng.beta(0.3, 0.3, size=5).tolist()],
            }
        )
    return found


@pytest.fixture(scope="module")
def more(tables: Path) -> Path:
    told = cases()
    assert {case["stage"] for case in told} == {*STAGES, "unknown"}
    assert any(case["later"] for case in told)
    assert {case["laboratory"] for case in told} == {True, False}
    assert {case["question"] is None for case in told} == {True, False}
    write_lines(tables / "more.jsonl", told)
    # The catalogue of the phone holds what it needs; here the whole of it stands in.
    spanish = Words("es")._messages
    write_lines(tables / "spanish.jsonl", [{"messages": {m: spanish.gettext(m) for m in MESSAGES}}])
    return tables


MESSAGES = (
    "; or ",
    "The doubt is worth a leaf sample to a laboratory now.",
    "Without one: {look}.",
    "What would: {look}; or a leaf sample to a laboratory now.",
    "What would: a leaf sample to a laboratory.",
    "{look}, when it has two to four leaves",
    "{look}, when it has more leaves",
    "{look}, once it flowers",
    "{look}, once it has ripe seed",
    "{look}: speaks for neither.",
    "{look}: {times} times likelier in {one} than in {other}.",
    "less than 1 chance in 200",
    "more than 199 chances in 200",
    "about {n} chances in 100",
    "about 1 chance in {n}",
    "about {k} chances in {n}",
)


def test_the_golden_cases_are_met_and_order_is_nothing(tables: Path) -> None:
    said = run_tests("engine.test.ts", tables)
    print(next(line for line in said.splitlines() if "largest difference" in line))


def test_priors_of_places_sentences_and_what_to_do_are_those_of_the_room(more: Path) -> None:
    run_tests("plant.test.ts", more)


def test_the_error_of_three_taps_is_the_error_that_is_made(tables: Path) -> None:
    said = run_tests("leaf.test.ts", tables)
    for line in said.splitlines():
        if "within 1.96 errors" in line:
            print(line)
