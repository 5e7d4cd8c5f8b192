"""Whether an indicator shows the equivalence of a titration: how far off its change begins, and how slow it is."""

from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any

from labmark.analyse.uncertainty import DROP
from labmark.lesson.constants import indicator_named, table
from labmark.lesson.curve import Curve
from labmark.outputs.numbers import fixed

SEEN = 0.3
"""Least change of pH that an eye sees in an indicator's colour (from memory); less in two drops is no end point."""
Verdict = dict[str, Any]


def verdict(curve: Curve, indicator: str, within: Decimal) -> Verdict | None:
    """Return how an indicator of acids and bases does; None where it is none, or the curve none of pH.

    `within` is how far off it may be [cm³], the practical's limit of concordance.
    """
    row = indicator_named(indicator, table("indicators")["indicator"])
    return None if curve.quantity != "pH" or row is None else _verdict(curve, row, within)


def better(curve: Curve, within: Decimal) -> str:
    """Return the indicator of the table that suits best; empty where none does."""
    verdicts = [_verdict(curve, row, within) for row in table("indicators")["indicator"]]
    suiting = [each for each in verdicts if each["suits"]]
    return str(min(suiting, key=lambda each: abs(each["bias_cm3"]))["name"]) if suiting else ""


def about(curve: Curve) -> list[float]:
    """Return what is measured a drop before equivalence, there, and a drop after."""
    return list(curve.at([curve.equivalence - DROP, curve.equivalence, curve.equivalence + DROP]).tolist())


def _verdict(curve: Curve, row: Mapping[str, Any], within: Decimal) -> Verdict:
    """Return range, pH about equivalence, and what is run in between equivalence and the nearer end of the range."""
    before, at, after = about(curve)
    low, high = row["low"], row["high"]
    ends = [curve.volume(low), curve.volume(high)]
    nearer = ends[0] if at < low else ends[1]
    bias = 0.0 if low <= at <= high else nearer - curve.equivalence
    return {
        **{key: row[key] for key in ("name", "low", "high", "source")},
        "ph_at_equivalence": round(at, 2),
        "ph_before": round(before, 2),
        "ph_after": round(after, 2),
        "bias_cm3": round(bias, 3) + 0.0,
        "titre_cm3": round(curve.equivalence, 2),
        "suits": abs(bias) <= float(within) and abs(after - before) >= SEEN,
    }


def complaint(curve: Curve, found: Verdict | None, within: Decimal) -> Iterator[str]:
    """Yield what is wrong with an indicator that does not suit, and which one would."""
    if found is None or found["suits"]:
        return
    bias, name = found["bias_cm3"], found["name"]
    other = better(curve, within)
    remedy = f"{other} suits" if other else "no indicator in labmark’s table suits this titration"
    ph_at_equivalence = fixed(found["ph_at_equivalence"], 1)
    ph = f"pH {ph_at_equivalence} at equivalence, colour change from pH {found['low']} to {found['high']}"
    if abs(bias) > float(within):
        when = f"{abs(bias):.2f} cm³ too {'late' if bias > 0 else 'soon'}"
        yield f"{name} begins to change {when} ({ph}): {remedy}"
    else:
        jump = fixed(abs(found["ph_after"] - found["ph_before"]), 1)
        yield f"{name} changes slowly: two drops about equivalence move the pH by only {jump} ({ph}): {remedy}"
