"""A reading to dated actions: rules as data, cautions, what not to do, what to plan. Floor 4."""

from tepal.advice._advise import LIMIT, advise, rules_for
from tepal.advice._deadlines import Deadline, Due, due, parse_deadline
from tepal.advice._effort import TACTICS, Effort, Tactic, seed_and_hours
from tepal.advice._fills import FILLS, Fills
from tepal.advice._items import Advice, Caution, Item
from tepal.advice._output import in_words, provenance, to_json
from tepal.advice._page import rules_page
from tepal.advice._predicates import ALL_FACTS, OPERATORS, OWN_FACTS, Group, parse_line
from tepal.advice._readers import for_reader
from tepal.advice._rules import KINDS, READERS, TAGS, CautionRow, Reader, Rule, RuleBook, load_rules

__all__ = [
    "ALL_FACTS",
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
    "Tactic",
    "advise",
    "due",
    "for_reader",
    "in_words",
    "load_rules",
    "parse_deadline",
    "parse_line",
    "provenance",
    "rules_for",
    "rules_page",
    "seed_and_hours",
    "to_json",
]
