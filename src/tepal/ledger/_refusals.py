"""What pydantic found wrong, as one plain line: field, value, rule, next step."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic import ValidationError

from tepal.ledger._values import Broken
from tepal.tables import Refused, Where

_MOST = 60


def refused(error: ValidationError, *, where: Where | str, what: str, allowed: Mapping[str, Any] = {}) -> Refused:
    """The first thing wrong as a refusal; `what` names the thing ("a stop"), `allowed` its fields."""
    place = where if isinstance(where, Where) else Where(where)
    found = error.errors(include_url=False, include_context=True)
    first = found[0]
    field = ".".join(str(part) for part in first["loc"] if not _is_branch(part))
    value = first.get("input")
    broken = (first.get("ctx") or {}).get("error")
    if isinstance(broken, Broken):
        field = ".".join(part for part in (field, broken.field) if part)
        value = broken.value
    rule, step = _rule(first, what, allowed)
    more = f" {len(found) - 1} more such in the same {what.rsplit(maxsplit=1)[-1]}." if len(found) > 1 else ""
    return Refused(
        f"no {field}" if first["type"] == "missing" else _said(field, value),
        where=Where(place.file, place.line, field or place.column),
        rule=rule,
        step=step + more,
    )


def _is_branch(part: object) -> bool:
    # Pydantic names the branch of a union or a wrapped function in the place; a person did not write that.
    return isinstance(part, str) and ("[" in part or part in {"str", "float", "int", "constrained-str"})


def _said(field: str, value: object) -> str:
    shown = "null" if value is None else repr(value) if isinstance(value, (str, bytes)) else str(value)
    if len(shown) > _MOST:
        shown = shown[: _MOST - 1] + "…"
    return f"{field} is {shown}" if field else shown


def _rule(error: Mapping[str, Any], what: str, allowed: Mapping[str, Any]) -> tuple[str, str]:
    kind, context = error["type"], error.get("ctx") or {}
    if kind == "missing":
        return f"{what.capitalize()} needs it.", "Add it."
    if kind == "extra_forbidden":
        fields = f" It has {', '.join(allowed)}." if allowed and len(error["loc"]) == 1 else ""
        return f"{what.capitalize()} has no such field.{fields}", "Correct the name, or put it into words."
    if kind == "value_error":
        inner = context.get("error")
        if isinstance(inner, Refused):
            return f"{inner.what}. {inner.rule}", inner.step
        return str(inner), "Correct it."
    return _plain_rule(kind, context, str(error["msg"])), "Correct it."


def _plain_rule(kind: str, context: Mapping[str, Any], message: str) -> str:
    bounds = {
        "greater_than_equal": ("ge", "at least"),
        "greater_than": ("gt", "more than"),
        "less_than_equal": ("le", "at most"),
        "less_than": ("lt", "less than"),
    }
    if kind in bounds:
        key, words = bounds[kind]
        return f"It is {words} {context[key]:g}."
    if kind == "literal_error":
        return f"It is one of {context['expected'].replace(' or ', ', ').replace(chr(39), '')}."
    if kind == "string_too_long":
        return f"It has at most {context['max_length']} signs."
    if kind in {"too_long", "too_short"}:
        words = "at most" if kind == "too_long" else "at least"
        return f"It has {words} {context.get('max_length', context.get('min_length'))} items."
    fixed = {
        "float_type": "It is a number, without quotes.",
        "int_type": "It is a whole number, without quotes.",
        "int_from_float": "It is a whole number.",
        "finite_number": "It is a finite number.",
        "bool_type": "It is true or false.",
        "string_type": "It is text.",
        "string_too_short": "It may not be empty.",
        "tuple_type": "It is a list.",
        "dict_type": "It is a JSON object.",
        "model_type": "It is a JSON object.",
    }
    return fixed.get(kind, message.rstrip(".") + ".")
