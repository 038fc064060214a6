"""The kinds and fields of entries in words, for the docs."""

from __future__ import annotations

import re

from tepal.ledger._bodies import BODIES, Body


def describe_kinds() -> str:
    """Every kind with its fields as Markdown; ``*`` marks what must be given."""
    common = ", ".join(f"`{name}` ({field.description})" for name, field in Body.model_fields.items())
    out = [f"Every body may carry {common}.", ""]
    for kind, model in BODIES.items():
        choices = _choices(model)
        out += [f"### `{kind}`", "", _first_sentence(model), "", "| field | what |", "|---|---|"]
        for name, field in model.model_fields.items():
            if name in Body.model_fields and not field.is_required():
                continue
            star = "*" if field.is_required() else ""
            out.append(f"| `{name}`{star} | {field.description}{choices.get(name, '')} |")
        if out[-1] == "|---|---|":
            out[-2:] = ["Only what every body may carry."]
        out.append("")
    return "\n".join(out).rstrip() + "\n"


def _choices(model: type[Body]) -> dict[str, str]:
    """Field name → the values it can have, where they are few."""
    out = {}
    for name, schema in model.model_json_schema()["properties"].items():
        branches = [schema, *schema.get("anyOf", ()), schema.get("items", {})]
        values = next((branch["enum"] for branch in branches if "enum" in branch), None)
        if values:
            out[name] = ": " + ", ".join(f"`{value}`" for value in values)
    return out


def _first_sentence(model: type[Body]) -> str:
    return re.sub(r"\s+", " ", model.__doc__ or "").strip()
