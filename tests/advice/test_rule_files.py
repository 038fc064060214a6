"""Reading rule files: what is not declared is refused, by file, rule and what to do."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from tepal.advice import OPERATORS, load_rules, parse_line, rule_facts
from tepal.tables import Refused, Where

HERE = Where("rules.toml", None, "rule r")
ALL_FACTS = rule_facts(["AMAPA", "AMATU"])
CAUTIONS = (
    "key,about,text,sources,basis\nlabel,spraying,The label is the law.,,judgement\n"
    "applicator,spraying,They decide.,,judgement\n"
)
RULE = """
[condition.seen]
means = "Seen."
all = ["seen_any is yes"]
[[rule]]
id = "r"
kind = "do"
when = ["seen", "tallest_cm at_least 10"]
by = "in 3 days"
text = "Pull it under {cm:10}."
why = "It sets seed."
cautions = ["label"]
sources = []
basis = "judgement"
"""


def _load(folder: Path, rules: str, *, sources: set[str] | None = None) -> None:
    (folder / "rules.toml").write_text(rules, encoding="utf-8")
    (folder / "cautions.csv").write_text(CAUTIONS, encoding="utf-8")
    load_rules(folder, hunted=["SETFA"], sources=sources)


def test_a_small_book_of_another_group_loads(tmp_path: Path) -> None:
    _load(tmp_path, RULE, sources=set())


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("tallest_cm at_least 10", "talest_cm at_least 10", "key 'talest_cm'"),
        ("tallest_cm at_least 10", "tallest_cm is 10", "operator 'is'"),
        ("tallest_cm at_least 10", "tallest_cm at_least ten", "value 'ten'"),
        ("tallest_cm at_least 10", "__import__('os')", "condition"),
        ("tallest_cm at_least 10", "unheard", "condition 'unheard'"),
        ('when = ["seen", "tallest_cm at_least 10"]', "", "no conditions"),
        ('by = "in 3 days"', 'by = "soon"', "deadline 'soon'"),
        ("{cm:10}", "{height}", "fill 'height'"),
        ("{cm:10}", "{cm:10", "in 'Pull it under"),
        ('cautions = ["label"]', 'cautions = ["lable"]', "caution 'lable'"),
        ('kind = "do"', 'kind = "maybe"', "kind 'maybe'"),
        ('basis = "judgement"', 'basis = "guess"', "basis 'guess'"),
        ("sources = []", 'sources = ["Nobody1999"]', "source 'Nobody1999'"),
        ('basis = "judgement"', 'basis = "measured"', "without a source"),
        ('cautions = ["label"]', 'cautions = ["label"]\ntags = ["chemical"]', "no caution 'applicator'"),
        ('kind = "do"', 'kind = "do"\nurgency = 3', "entry 'urgency'"),
        ('kind = "do"', 'kind = "do"\ntactic = "flame"', "tactic 'flame'"),
        ('kind = "do"', 'kind = "do"\nafter = "q"', "rule to follow 'q'"),
        ('why = "It sets seed."', "", "no why"),
        ('all = ["seen_any is yes"]', 'all = ["not seen"]', "name each other"),
        ('id = "r"', 'id = "r', "rules.toml"),
    ],
)
def test_a_fault_is_refused_in_one_line_that_names_it(tmp_path: Path, old: str, new: str, said: str) -> None:
    assert old in RULE
    with pytest.raises(Refused) as caught:
        _load(tmp_path, RULE.replace(old, new), sources=set())
    assert said in str(caught.value)
    assert "rules.toml" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_rule_twice_and_a_missing_file_are_refused(tmp_path: Path) -> None:
    with pytest.raises(Refused, match="rule 'r' twice"):
        _load(tmp_path, RULE + RULE[RULE.index("[[rule]]") :])
    with pytest.raises(Refused, match=r"has its rules in rules\.toml"):
        load_rules(tmp_path / "nowhere", hunted=["SETFA"])


@pytest.mark.parametrize("key", ALL_FACTS)
def test_an_unknown_fact_makes_no_line_true_but_unknown_and_is_not(key: str) -> None:
    value = {"number": "1", "yes_no": "yes", "text": "a", "date": "today", "moment": ""}[ALL_FACTS[key][0]]
    for operator in OPERATORS[ALL_FACTS[key][0]]:
        line = f"{key} {operator}" if operator in ("known", "unknown") else f"{key} {operator} {value}"
        holds = parse_line(line, HERE, {}, ALL_FACTS).holds({"as_of": date(2026, 7, 1)} if key != "as_of" else {})
        assert holds is (operator in ("unknown", "is_not")), line


@pytest.mark.parametrize(
    ("line", "facts", "holds"),
    [
        ("tallest_cm at_least 10", {"tallest_cm": 10.0}, True),
        ("tallest_cm above 10", {"tallest_cm": 10.0}, False),
        ("tallest_cm at_most 10", {"tallest_cm": 10.0}, True),
        ("tallest_cm below 10", {"tallest_cm": 10.0}, False),
        ("seen_any is no", {"seen_any": False}, True),
        ("seen_any is_not yes", {"seen_any": False}, True),
        ("crop is Soybean", {"crop": "soybean"}, True),
        ("crop any_of winter wheat|Barley", {"crop": "Winter Wheat"}, True),
        ("crop is_not corn", {"crop": "corn"}, False),
        ("window.flowers.q10 before today+1", {"window.flowers.q10": date(2026, 7, 1)}, True),
        ("window.flowers.q10 before today", {"window.flowers.q10": date(2026, 7, 1)}, False),
        ("window.flowers.q10 after today-2", {"window.flowers.q10": date(2026, 6, 30)}, True),
        ("pulled_days known", {"pulled_days": 0.0}, True),
    ],
)
def test_operators_mean_what_they_say(line: str, facts: dict[str, object], holds: bool) -> None:
    test = parse_line(line, HERE, {}, ALL_FACTS)
    assert test.holds({"as_of": date(2026, 7, 1)} | facts) is holds  # type: ignore[arg-type]
