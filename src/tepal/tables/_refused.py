"""The one exception for input that the house will not take: what, where, the rule, the next step."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Where:
    """A place in the input: a file (or "command line"), a line and a column where they are known."""

    file: str
    line: int | None = None
    column: str | None = None

    def __str__(self) -> str:
        parts = [self.file]
        if self.line is not None:
            parts.append(f"line {self.line}")
        if self.column is not None:
            parts.append(f"column {self.column!r}")
        return ", ".join(parts)


class Refused(ValueError):
    """Input refused; nothing has been written.

    `what` gives the value as it came, `where` the place, `rule` what would have been taken, `step` what to do next.
    The message is always one line, so that a command can print it as it is.
    """

    def __init__(self, what: str, *, where: Where | str, rule: str, step: str) -> None:
        self.what = what
        self.where = where if isinstance(where, Where) else Where(where)
        self.rule = rule
        self.step = step
        super().__init__(" ".join(f"{what} ({self.where}). {rule} {step}".split()))

    def at(self, where: Where) -> Refused:
        """The same refusal, told of a more exact place."""
        return Refused(self.what, where=where, rule=self.rule, step=self.step)
