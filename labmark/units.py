"""Units as written in data (mol/dm3) and as shown to people (mol/dm³)."""

import re
from functools import lru_cache

from labmark.exact import raised


@lru_cache(maxsize=256)
def shown_unit(unit: str) -> str:
    """Return a unit as it is printed, with raised figures.

    >>> shown_unit("mg/dm3"), shown_unit("g/100 cm3"), shown_unit("mol3/dm9")
    ('mg/dm³', 'g/100 cm³', 'mol³/dm⁹')
    """
    return re.sub(r"(?<=[dc]m|ol)\d+", lambda power: raised(power[0]), unit)


ASKED: dict[str, tuple[str, int]] = {
    "mol/dm3": ("mol/dm3", 0),
    "mol/L": ("mol/dm3", 0),
    "M": ("mol/dm3", 0),
    "mmol/dm3": ("mol/dm3", -3),
    "g/dm3": ("g/dm3", 0),
    "g/L": ("g/dm3", 0),
    "mg/dm3": ("g/dm3", -3),
    "mg/L": ("g/dm3", -3),
    "mg/100 cm3": ("g/dm3", -2),
    "mg/100 mL": ("g/dm3", -2),
    "ppm": ("g/dm3", -3),  # of a dilute aqueous solution, 1 kg to the dm³
    "g": ("g", 0),
    "mg": ("g", -3),
    "%": ("%", 0),
    "mg/g": ("%", -1),
    "mg/kg": ("%", -4),
    "g/100 g": ("%", 0),
    "g/mol": ("g/mol", 0),
}
"""Unit that a result may be asked for in -> (its family, power of ten over the unit that the family is named after)."""


def power_between(unit: str, asked: str) -> int | None:
    """Return the power of ten that turns a number in `unit` into one in `asked`; None where their families differ."""
    if unit == asked:
        return 0
    (family, power), (other, over) = ASKED.get(unit, (unit, 0)), ASKED.get(asked, (asked, 0))
    return power - over if family == other else None
