"""Practical files for tests, written as a teacher writes them. Settings are invented unless a source stands beside them."""

from __future__ import annotations

from labmark.practical import Practical, practical_from_toml

DRAIN_CLEANER = """
title = "Strength of a drain cleaner"
equation = "2 NaOH + H2SO4 -> Na2SO4 + 2 H2O"
[burette]
solution = "H2SO4"
concentration = 0.0500
[flask]
solution = "NaOH"
aliquot = 25.0
[result]
of = "NaOH"
[reference]
value = 0.0974
standard_uncertainty = 0.0004
"""


def practical(text: str = DRAIN_CLEANER, *changes: tuple[str, str]) -> Practical:
    """Return the practical of a text after (old, new) replacements, each of which must change something."""
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return practical_from_toml(text, "practical.toml")


def titration(
    equation: str,
    known: str,
    concentration: str,
    unknown: str,
    aliquot: str,
    *,
    known_in: str = "burette",
    quantity: str = "amount concentration",
    **more: str,
) -> Practical:
    """Return a bare practical for a worked example; `more` may hold sample, dilution, expressed_as, figures."""
    strength = f"concentration = {concentration}"
    in_burette, in_flask = (known, unknown) if known_in == "burette" else (unknown, known)
    lines = [
        'title = "worked example"',
        f'equation = "{equation}"',
        f'[burette]\nsolution = "{in_burette}"',
        strength if known_in == "burette" else "",
        f'[flask]\nsolution = "{in_flask}"\naliquot = {aliquot}',
        strength if known_in == "flask" else "",
        more.get("dilution", ""),
        f'[result]\nof = "{unknown}"\nquantity = "{quantity}"',
        f'expressed_as = "{more["expressed_as"]}"' if "expressed_as" in more else "",
        f"[sample]\n{more['sample']}" if "sample" in more else "",
    ]
    return practical_from_toml("\n".join(lines), "example.toml")
