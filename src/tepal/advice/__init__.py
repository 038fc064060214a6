"""A reading to dated actions: rules as data, cautions, what not to do, what to plan. Floor 4."""

from tepal.advice._advise import LIMIT, advise, rules_for
from tepal.advice._deadlines import Deadline, Due, due, parse_deadline
from tepal.advice._effort import TACTICS, Effort, Tactic, seed_and_hours
from tepal.advice._fills import FILLS, Fills
from tepal.advice._items import Advice, Caution, Item
from tepal.advice._output import in_words, provenance, to_json
from tepal.advice._page import rules_page
from tepal.advice._predicates import OPERATORS, OWN_FACTS, Group, parse_line, rule_facts
from tepal.advice._readers import for_reader
from tepal.advice._rules import KINDS, READERS, TAGS, CautionRow, Reader, Rule, RuleBook, load_rules
from tepal.advice._waiting import Waiting, waiting
from tepal.advice._work_days import SprayDays, WorkDays, spray_days, work_days

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
    "Deadline",
    "Due",
    "Effort",
    "Fills",
    "Group",
    "Item",
    "Reader",
    "Rule",
    "RuleBook",
    "SprayDays",
    "Tactic",
    "Waiting",
    "WorkDays",
    "advise",
    "due",
    "for_reader",
    "in_words",
    "load_rules",
    "parse_deadline",
    "parse_line",
    "provenance",
    "rule_facts",
    "rules_for",
    "rules_page",
    "seed_and_hours",
    "spray_days",
    "to_json",
    "waiting",
    "work_days",
]
