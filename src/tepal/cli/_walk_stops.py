"""What `tepal walk --stop-rule` says: how many stops, and a table to hold a running count against."""

from __future__ import annotations

import math

from tepal.cli import _out
from tepal.tables import Refused

_TOLD = (1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50)


def say(
    *, mean: float | None, few: float | None, many: float | None, k: float | None, error: float, json_output: bool
) -> int:
    from tepal.walk import fixed_precision, threshold_lines
    from tepal.words import Words

    if (mean is None) == (few is None or many is None):
        raise Refused(
            "the question is not clear",
            where="--stop-rule",
            rule="Either how many stops for a precision (--mean), or few against many (--few and --many).",
            step="Give --mean 2 --k 0.8, or --few 0.5 --many 2 --k 0.8.",
        )
    if k is None:
        raise Refused(
            "no --k",
            where="--stop-rule",
            rule="How clumped the counts are decides: k = m² / (s² - m), from earlier counts.",
            step="Give --k from a field like this; 0.5 to 1 where plants stand in patches, inf where by chance alone.",
        )
    words = Words()
    if mean is not None:
        rule = fixed_precision(mean, k, error, most=max(_TOLD))
        if json_output:
            _out.emit({"stops": rule.stops, "stop_at": list(rule.stop_at), "error": error, "k": _finite(k)})
            return _out.DONE
        _out.say(
            words.t(
                "About {stops} stops, if a stop has {mean} plants: the mean then has a standard error of {error} %.",
                stops=words.number(rule.stops),
                mean=words.number(mean),
                error=words.number(100 * error, 0),
            )
        )
        _out.say("After so many stops you may stop once you counted so many plants in all:")
        for n in _TOLD:
            count = rule.stop_at[n - 1]
            _out.say(f"{n:4d}   {'-' if count is None else math.ceil(count - 1e-9)}")
        return _out.DONE
    assert few is not None
    assert many is not None
    lines = threshold_lines(few, many, k)
    table = [
        {"stops": n, "few_up_to": _floor(lines.low(n)), "many_from": math.ceil(lines.high(n) - 1e-9)} for n in _TOLD
    ]
    if json_output:
        _out.emit(
            {
                "slope": lines.slope,
                "low_intercept": lines.low_intercept,
                "high_intercept": lines.high_intercept,
                "table": table,
                "k": _finite(k),
            }
        )
        return _out.DONE
    _out.say(
        words.t(
            "Few is {few} plants a stop, many is {many}; either answer is wrong in at most 10 of 100 fields. Count on "
            "while your total lies between.",
            few=words.number(few),
            many=words.number(many),
        )
    )
    _out.say("stops   few, up to   many, from")
    for row in table:
        least = "-" if row["few_up_to"] is None else row["few_up_to"]
        _out.say(f"{row['stops']:5d}   {least!s:>10}   {row['many_from']!s:>10}")
    return _out.DONE


def _floor(value: float) -> int | None:
    return math.floor(value + 1e-9) if value >= 0 else None


def _finite(k: float) -> float | None:
    return k if math.isfinite(k) else None
