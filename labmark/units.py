"""Units as written in data (mol/dm3) and as shown to people (mol/dm³)."""

from __future__ import annotations

SHOWN: dict[str, str] = {
    "mol/dm3": "mol/dm³",
    "g/dm3": "g/dm³",
    "cm3": "cm³",
    "dm3": "dm³",
    "g/100 cm3": "g per 100 cm³",
    "%": "%",
    "": "",
}
"""Unit in data -> unit as printed; a unit that is not listed is printed as it stands."""


def shown_unit(unit: str) -> str:
    """Return a unit as it is printed, with raised figures."""
    return SHOWN.get(unit, unit)
