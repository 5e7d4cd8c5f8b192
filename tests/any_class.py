"""Any practical with one result that the keys can express, and a class that did it right. Settings are invented."""

from __future__ import annotations

import csv
import json
import random
from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Context, Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

from labmark.formula import Formula
from labmark.practical import Practical
from labmark.practical.kinds import formula_of
from labmark.practical.model import FromSheet
from labmark.practical.quantities import QUANTITIES
from labmark.units import ASKED
from tests.any_practical import EQUATIONS, OF_ONE_SUBSTANCE

Table = dict[str, Any]
CHAINS = [
    (["2 Cu^2+ + 4 I^- -> 2 CuI + I2", "I2 + 2 S2O3^2- -> 2 I^- + S4O6^2-"], "S2O3^2-", "Cu^2+"),
    (["OCl^- + 2 I^- + 2 H^+ -> Cl^- + I2 + H2O", "I2 + 2 S2O3^2- -> 2 I^- + S4O6^2-"], "S2O3^2-", "OCl^-"),
]
STANDARDISED = ("KHC8H4O4 + NaOH -> KNaC8H4O4 + H2O", "KHC8H4O4", "NaOH")
BACK = [
    ("HCl + NaOH -> NaCl + H2O", "NaOH", "CaCO3 + 2 HCl -> CaCl2 + H2O + CO2", "CaCO3"),
    ("2 HCl + Na2CO3 -> 2 NaCl + H2O + CO2", "Na2CO3", "NH3 + HCl -> NH4Cl", "NH3"),
]
KINDS = ("burette", "burette", "flask", "chain", "weighed", "weighed made up", "made up", "whole", "portions")
IN_EVERY_FLASK = ("weighed", "made up", "whole")
"""Kinds in which a run may have its own mass."""


def any_table(rng: random.Random) -> Table:
    """Return the table of any practical, which may be ill-posed."""
    kind = rng.choice(KINDS)
    table = (_back if kind in KINDS[-3:] else _weighed if "weighed" in kind else _direct)(rng, kind)
    table["title"] = kind
    result = table["result"]
    result["quantity"] = rng.choice(list(QUANTITIES))
    if result["quantity"] in OF_ONE_SUBSTANCE and kind == "burette":
        equation, known, unknown = OF_ONE_SUBSTANCE[result["quantity"]]
        table["equation"], table["burette"]["solution"] = equation, known
        table["flask"]["solution"] = result["of"] = unknown
    of_sample = QUANTITIES[result["quantity"]].of == "sample"
    if of_sample and "sample" not in table:
        table["sample"] = {"mass": 3.25} | ({"made_up_to": 200.0} if kind != "whole" else {})
    if "sample" in table and "volume" not in table["sample"] and rng.random() < 0.5:
        table["sample"]["items"] = 5
    if result["quantity"] == "titre factor":
        result["nominal"] = 0.1
    family = QUANTITIES[result["quantity"]].unit
    alike = [unit for unit, (of, _) in ASKED.items() if of == ASKED.get(family, (family, 0))[0]]
    if rng.random() < 0.5:
        result["unit"] = rng.choice(alike if alike and rng.random() < 0.9 else list(ASKED))
    if rng.random() < 0.2:
        result |= {"factor": rng.choice([6.25, 0.5]), "factor_name": "share"}
    if rng.random() < 0.3:
        result["expressed_as"] = rng.choice(["1/2 Fe2O3", "NaOH", "2 H2O", "1 Cl2"])
    result["significant_figures"] = rng.choice([3, 3, 4])
    _blank(rng, table)
    _own(rng, table)
    return table


def _direct(rng: random.Random, kind: str) -> Table:
    equation, known, unknown = rng.choice(CHAINS if kind == "chain" else EQUATIONS)
    strength = {"concentration": rng.choice([0.0500, 0.1, 0.0213])}
    if known == "NaOH" and rng.random() < 0.5:
        strength = {}
    in_flask, in_burette = (known, unknown) if kind == "flask" else (unknown, known)
    made: Table = {"equation": equation, "burette": {"solution": in_burette}, "flask": {"solution": in_flask}}
    made["flask"]["aliquot"] = rng.choice([25.0, 20.0, 10.0])
    made["flask" if kind == "flask" else "burette"] |= strength
    if rng.random() < 0.25:
        made["flask"]["dilution"] = {"taken": 20.0, "made_up_to": 250.0}
    elif rng.random() < 0.15:
        made["flask"]["displaced"] = {"bottle": 125.0, "reagents": 2.0}
    if not strength or (known == "HCl" and rng.random() < 0.2):
        made["standardisation"] = {
            "standard": "KHC8H4O4", "equation": STANDARDISED[0], "masses": [0.5105, 0.5211, 0.4987],
            "titres": [25.00, 25.50, 24.40],
        }  # fmt: skip
    return made | {"result": {"of": unknown}}


def _weighed(rng: random.Random, kind: str) -> Table:
    equation, known, unknown = STANDARDISED
    made: Table = {"equation": equation, "burette": {"solution": unknown}, "flask": {"solution": known}}
    made["sample"] = {"mass": 0.512 if kind == "weighed" else 5.105, "purity": rng.choice([1, 0.999])}
    if kind != "weighed":
        made["sample"]["made_up_to"] = 250.0
        made["flask"]["aliquot"] = 25.0
    return made | {"result": {"of": unknown}}


def _back(rng: random.Random, kind: str) -> Table:
    equation, titrant, reaction, unknown = rng.choice(BACK)
    excess: Table = {"solution": "HCl", "concentration": 0.1 if kind == "portions" else 1.0, "volume": 50.0}
    excess["equation"] = reaction
    made: Table = {"equation": equation, "burette": {"solution": titrant, "concentration": 0.1}}
    made["flask"] = {"solution": unknown, "aliquot": 25.0} if kind == "portions" else {"solution": "HCl"}
    if kind == "whole":
        excess["concentration"] = 0.1
        made["flask"]["aliquot"] = 50.0
    if kind == "made up":
        excess["made_up_to"] = 250.0
        made["flask"]["aliquot"] = 25.0
    if kind == "portions":
        if rng.random() < 0.3:
            made["flask"]["dilution"] = {"taken": 10.0, "made_up_to": 100.0}
    else:
        made["sample"] = {"mass": 1.5} if rng.random() < 0.7 else {"volume": 20.0}
    return made | {"excess": excess, "result": {"of": unknown}}


def _blank(rng: random.Random, table: Table) -> None:
    which = rng.choice(["", "", "", "number", "column", "runs"])
    number = 49.5 if "excess" in table else 0.15
    if which:
        table["blank"] = {"titre": number} if which == "number" else {"titre": {"column": "Blank titre"}}
    if which == "runs":
        table["blank"] = {"runs": True}
    if which and "excess" in table and rng.random() < 0.5:
        table["excess"].pop("volume"), table["excess"].pop("concentration")


def _own(rng: random.Random, table: Table) -> None:
    """Let students have some of the numbers of their own."""
    sample, flask = table.get("sample", {}), table["flask"]
    if "mass" in sample and rng.random() < 0.5:
        sample["mass"] = rng.choice([
            {"column": "Mass"}, {"column": "Mass"}, {"column": "Mass before", "minus": "Mass after"},
            {"by": "Bottle", "values": {"A": sample["mass"], "B": sample["mass"] * 1.25}},
        ])  # fmt: skip
    if "volume" in sample and rng.random() < 0.3:
        sample["volume"] = {"column": "Volume taken"}
    if "aliquot" in flask and rng.random() < 0.15:
        flask["aliquot"] = {"column": "Aliquot"}
    if "dilution" in flask and rng.random() < 0.3:
        flask["dilution"]["taken"] = {"column": "Volume taken"}
    for vessel in (table["burette"], flask):
        if "concentration" in vessel and rng.random() < 0.15:
            vessel["concentration"] = {"column": "Concentration of the standard"}


def as_toml(table: Table) -> str:
    """Return a practical file."""
    return "".join(f"{key} = {_value(value)}\n" for key, value in table.items())


def _value(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{json.dumps(key)} = {_value(each)}" for key, each in value.items()) + " }"
    return json.dumps(value)


def to_figures(value: Fraction, figures: int) -> str:
    rounded = Context(prec=figures, rounding=ROUND_HALF_UP).divide(Decimal(value.numerator), Decimal(value.denominator))
    exponent = min(0, rounded.adjusted() - figures + 1)
    shown = rounded.quantize(Decimal(1).scaleb(exponent)) if rounded.adjusted() < figures else rounded
    return f"{shown:f}"


BLANK_TITRE = "blank.titre"
PLACES = {"sample.mass": 3, "burette.concentration": 4, "flask.concentration": 4, BLANK_TITRE: 2}
"""Key -> decimals of somebody's own number; one where nothing is said."""
UNITS = {"sample.mass": "g", "burette.concentration": "mol/dm3", "flask.concentration": "mol/dm3"}
MASSES = {"weighed": "0.512", "weighed made up": "5.105"}
MIDDLE = {"flask.aliquot": "25.0", "flask.dilution.taken": "20.0", "sample.volume": "20.0"}
LABELS = ("Rough", "Run 1", "Run 2", "Run 3")
STRETCH = Fraction(12), Fraction(47)
"""Titres [cm³] at which 0.05 cm³ is little and that one burette holds."""


@dataclass
class Right:
    """The class sheet of four students who did it right, and the reference that they were after."""

    rows: list[list[str]]
    reference: str


def right_class(practical: Practical, rng: random.Random) -> Right | None:
    """Return a class, or None where titres in reach give nothing, or nothing that can be."""
    titres = (Fraction(text) for text in rng.sample(["21.35", "31.20", "16.40", "40.10"], 4))
    aim = next((value for titre in titres if (value := _result(formula_of(practical), titre))), None)
    if aim is None or (practical.file.result.quantity == "percent by mass" and aim > 90):
        return None
    mass = practical.own.get("sample.mass")
    by_run = practical.file.title in IN_EVERY_FLASK and mass is not None and not mass.by and rng.random() < 0.6
    maker = Maker(practical, rng, to_figures(aim, 5), by_run)
    rows = [maker.student(name) for name in ("Ada", "Ben", "Cem", "Dov")]
    if not all(rows):
        return None
    header = list(dict.fromkeys(key for row in rows for key in row or {}))
    return Right([header, *([(row or {}).get(key, "") for key in header] for row in rows)], maker.reference)


class Maker:
    """Makes the students of one class, whose sheet asks all of them for the same."""

    def __init__(self, practical: Practical, rng: random.Random, reference: str, by_run: bool) -> None:
        self.practical, self.rng, self.reference, self.by_run = practical, rng, reference, by_run
        self.formula = formula_of(practical)
        self.rough_weighed, self.titres = rng.random() < 0.5, rng.random() < 0.5
        self.result = rng.random() < 0.8

    def student(self, name: str) -> dict[str, str] | None:
        """Return the row of a student, by heading; None where a titre is out of reach."""
        row, used, results = {"Student": name}, [], []
        shared = self._numbers(row, [key for key in self.practical.own if not (self.by_run and key == "sample.mass")])
        for label in LABELS:
            weighed = self.by_run and (label != "Rough" or self.rough_weighed)
            own = shared | (self._numbers(row, ["sample.mass"], f"{label} ") if weighed else {})
            formula = _with(self.formula, own)
            right = formula.curve.titre(Fraction(self.reference))
            if right is None or not STRETCH[0] < right < STRETCH[1]:
                return None
            titre = Fraction(round(right * 20), 20) + self._off(label)
            self._write_run(row, label, titre)
            if label != "Rough":
                used.append(titre)
                results.append(_result(formula, titre) or Fraction(0))
        if self.by_run:
            mean_result = sum(results, Fraction(0)) / 3
            if (max(results) - min(results)) * 250 > mean_result:
                return None  # these do not agree
        else:
            row["Mean titre"] = to_figures(sum(used, Fraction(0)) / 3, 4)
            mean_result = _result(_with(self.formula, shared), Fraction(row["Mean titre"])) or Fraction(0)
        if self.result:
            row["Result"] = to_figures(mean_result, self.practical.file.result.significant_figures)
        return row

    def _off(self, label: str) -> Fraction:
        return Fraction("0.6") if label == "Rough" else Fraction(0 if self.by_run else self.rng.choice([0, 0, 5]), 100)

    def _write_run(self, row: dict[str, str], label: str, titre: Fraction) -> None:
        start = Fraction(self.rng.randrange(40), 20)
        row[f"{label} initial"], row[f"{label} final"] = f"{float(start):.2f}", f"{float(start + titre):.2f}"
        if self.titres:
            row[f"{label} titre"] = f"{float(titre):.2f}"

    def _numbers(self, row: dict[str, str], keys: Iterable[str], label: str = "") -> dict[str, Fraction]:
        """Write somebody's own numbers into their row and return them."""
        found = {}
        for key in keys:
            given = self.practical.own[key]
            if given.by:
                row[given.by] = self.rng.choice(list(given.values))
                found[key] = Fraction(given.values[row[given.by]])
                continue
            found[key] = self._number(key)
            self._write_number(row, key, given, label, found[key])
        return found

    def _number(self, key: str) -> Fraction:
        if key == BLANK_TITRE:
            return Fraction("49.50" if self.practical.back else "0.15")
        middle = MASSES.get(self.practical.file.title, "1.5") if key == "sample.mass" else MIDDLE.get(key, "0.1")
        share = Fraction(self.rng.randrange(970, 1031), 1000)
        return round(Fraction(middle) * (1 if key == "flask.aliquot" else share), PLACES.get(key, 1))

    def _write_number(self, row: dict[str, str], key: str, given: FromSheet, label: str, value: Fraction) -> None:
        places = PLACES.get(key, 1)
        if self.practical.file.blank and self.practical.file.blank.runs and key == BLANK_TITRE:
            row["Blank initial"], row["Blank final"] = "0.00", f"{float(value):.2f}"
        elif given.minus:
            row[f"{label}{given.column}"] = f"{float(12 + value):.{places}f}"
            row[f"{label}{given.minus}"] = f"{12:.{places}f}"
        else:
            row[f"{label}{given.column} / {UNITS.get(key, 'cm3')}"] = f"{float(value):.{places}f}"


def _result(formula: Formula, titre: Fraction) -> Fraction | None:
    found = formula.curve.result(titre)
    return found if found is not None and found > 0 else None


def _with(formula: Formula, own: dict[str, Fraction]) -> Formula:
    return formula.given([replace(formula.of[key], value=value) for key, value in own.items() if key in formula.of])


def write(rows: list[list[str]], path: Path) -> Path:
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows(rows)
    return path
