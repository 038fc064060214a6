"""A reading to dated actions: rules as data, cautions, what not to do, what to plan. Floor 4."""

from importlib import import_module
from typing import TYPE_CHECKING

from tepal.advice._advise import LIMIT, advise, rules_for
from tepal.advice._deadlines import Deadline, Due, due, parse_deadline
from tepal.advice._effort import TACTICS, Effort, Tactic, seed_and_hours
from tepal.advice._fills import FILLS, Fills, hours, seeds
from tepal.advice._items import Advice, Caution, Item
from tepal.advice._output import in_words, provenance, to_json
from tepal.advice._page import rules_page
from tepal.advice._population import Population, Verdict, population, verdict
from tepal.advice._predicates import OPERATORS, OWN_FACTS, Group, parse_line, rule_facts
from tepal.advice._readers import for_reader
from tepal.advice._rules import KINDS, READERS, TAGS, CautionRow, Reader, Rule, RuleBook, load_rules
from tepal.advice._waiting import Waiting, waiting
from tepal.advice._work_days import SprayDays, WorkDays, spray_days, work_days

if TYPE_CHECKING:
    from tepal.advice._plan_words import plan_in_words, plan_to_json
    from tepal.advice._programme import CheckedPass, CheckedSeason, Finding, ProgrammeCheck, check_programme

# The check of a plan brings the form of its file along, which takes as long to load as all other advice: only who asks
# for it waits.
_OF_A_PLAN = {
    "CheckedPass": "_programme", "CheckedSeason": "_programme", "Finding": "_programme", "ProgrammeCheck": "_programme",
    "check_programme": "_programme", "plan_in_words": "_plan_words", "plan_to_json": "_plan_words",
}  # fmt: skip


def __getattr__(name: str) -> object:
    if name not in _OF_A_PLAN:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_OF_A_PLAN[name]}"), name)


__all__ = [
    "FILLS",
    "KINDS",
    "LIMIT",
    "OPERATORS",
    "OWN_FACTS",
    "READERS",
    "TACTICS",
    "TAGS",
    "Advice",
    "Caution",
    "CautionRow",
    "CheckedPass",
    "CheckedSeason",
    "Deadline",
    "Due",
    "Effort",
    "Fills",
    "Finding",
    "Group",
    "Item",
    "Population",
    "ProgrammeCheck",
    "Reader",
    "Rule",
    "RuleBook",
    "SprayDays",
    "Tactic",
    "Verdict",
    "Waiting",
    "WorkDays",
    "advise",
    "check_programme",
    "due",
    "for_reader",
    "hours",
    "in_words",
    "load_rules",
    "parse_deadline",
    "parse_line",
    "plan_in_words",
    "plan_to_json",
    "population",
    "provenance",
    "rule_facts",
    "rules_for",
    "rules_page",
    "seed_and_hours",
    "seeds",
    "spray_days",
    "to_json",
    "verdict",
    "waiting",
    "work_days",
]
