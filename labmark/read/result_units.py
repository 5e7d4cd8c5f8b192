"""A result in the unit asked for, whatever unit of its family stands beside it or in its header.

A unit of another quantity of the substance (g/dm3 where mol/dm3 is asked for) is handed on with the number in it.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from labmark.practical.quantities import Asked
from labmark.read.cells import Value
from labmark.read.written_units import Unit, unit_of
from labmark.units import ASKED

PER_CENT = 1
"""Power of ten of g in 100 cm3 over g/dm3."""
_RELATED = ({"mol/dm3", "g/dm3", "vol", "°dH", "°fH"}, {"mol", "g"}, {"mol/g", "%"})
"""Kinds that one molar mass turns into each other."""


@cache
def asked_unit(asked: str) -> Unit:
    """Return the unit that a bare number is in, from its name in the practical."""
    return Unit(*ASKED[asked]) if asked in ASKED else unit_of(asked) or Unit("", 0)


def _read_as(unit: Unit | None, asked: Unit) -> tuple[Unit | None, bool]:
    """Return a unit as it is meant where another is asked for, and whether it is fully written.

    None where it says nothing of that quantity. A bare g or mol beside a concentration is one in a dm3, a bare g beside
    per cent of a solution one in 100 cm3.
    """
    if unit is None:
        return None, False
    if unit.kind == "%" and (asked.kind.endswith("/dm3") or asked.kind == "vol"):  # of a solution: g in 100 cm3
        return Unit("g/dm3", unit.power + 1), True
    if unit.kind == "ppm":  # of a dilute solution in water 1 mg in 1 dm3
        return Unit("%", unit.power - 4) if asked.kind == "%" else Unit("g/dm3", unit.power - 3), True
    if unit.kind == "%" and not asked.kind:  # a factor of 101.0 % is one of 1.010
        return Unit("", unit.power - 2), True
    base, _, below = asked.kind.partition("/")
    if unit.kind == "g" and asked.power == PER_CENT:
        return Unit(asked.kind, asked.power + unit.power), False
    if below and unit.kind in (("g", "mol") if below == "dm3" else (base,)):
        return (None if asked.power else Unit(f"{unit.kind}/{below}", unit.power)), False
    known = unit.kind == asked.kind or any({unit.kind, asked.kind} <= kinds for kinds in _RELATED)
    return (unit, True) if known else (None, False)


def power_to(unit: str, asked: str) -> int | None:
    """Return the power of ten that turns a number in a unit, as written, into one in another; None where none does.

    >>> power_to("% w/v", "g/dm3"), power_to("mg", "g"), power_to("g/dm3", "mol/dm3")
    (1, -3, None)
    """
    read, wanted = _read_as(unit_of(unit), asked_unit(asked))[0], asked_unit(asked)
    return read.power - wanted.power if read is not None and read.kind == wanted.kind else None


def fits(unit: str, asked: str) -> bool:
    """Return whether a unit, as written, says something of the quantity that is asked in another one.

    >>> fits("mg/L", "mol/dm3"), fits("mg", "%")
    (True, False)
    """
    return _read_as(unit_of(unit), asked_unit(asked))[0] is not None


def in_asked_unit(value: Value, asked_as: Asked | None, written: str, header: str) -> tuple[Value, str]:
    """Return a result in the unit asked for, and what the teacher should know of the header's unit.

    `written` is the text of the cell, `header` the unit in the header; one beside the number goes before it. Where it
    is one of another quantity, the number is in that quantity's plain unit, and `unit_text` names this; else that is
    empty. A unit beside the number that says nothing of the quantity is noted, and handed on with the number as it
    stands: the unit may be a slip of the pen, or the result be of something else.
    """
    if value.number is None or asked_as is None or not (value.unit_text or header):
        return replace(value, unit_text=""), ""
    asked, in_words = asked_unit(asked_as.unit), asked_as.words
    unit, whole = _read_as(unit_of(value.unit_text or header), asked)
    other = "" if unit is None or unit.kind == asked.kind else unit.kind
    power = 0 if unit is None else unit.power - (0 if other else asked.power)
    taken = replace(value.scaled(power), unit_text=other)
    if whole and not other and not power:
        return taken, ""
    look = "" if whole and not other else f"; {in_words} is asked for, so look at the unit"
    if value.unit_text and unit is None:
        remark = f"written as {written!r}; {in_words} is asked for, so look at the unit"
        return replace(value, remark=remark), ""
    if value.unit_text:
        return replace(taken, remark=f"written as {written!r}, taken as {taken.number:f} {other}".rstrip() + look), ""
    how = f"each was taken × 10^{power}" if power else "they were taken as they stand"
    return taken, f"the results are headed {header!r}, and {in_words} is asked for: {how}" + (
        f"{f', in {other}' if other else ''}; look at the unit" if look else ""
    )
