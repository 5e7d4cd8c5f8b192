"""A complete record tree, made by hand: what `results.json` holds, for tests of the outputs.

Everybody and every figure in it is invented. Twelve students show a situation each: clean, overshoot, reversed
readings, a subtraction slip, a missing reading, no concordant runs, absent, a hostile name with the ratio ignored,
several largest sets, a refilled burette with a mark of the teacher's, another pipette under a long name, and one whose
result equals another's.

The result is twice the amount of acid: c(NaOH) = 2 × 0.0500 mol/dm³ × mean titre ÷ 25.0 cm³ = 0.004 × mean titre.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from labmark.practical.file import Sheet

Tree = dict[str, Any]

REFERENCE = 0.1012
"""Amount concentration of the alkali [mol/dm³], invented."""
PER_CM3 = 0.004
"""Result [mol/dm³] per cm³ of mean titre."""
SIGMA = 0.001012
"""One per cent of the reference [mol/dm³]."""
SCHEME: dict[str, int] = {
    "recording": 1,
    "table": 1,
    "titres": 1,
    "concordance": 2,
    "selection": 1,
    "mean": 1,
    "calculation": 2,
    "figures": 1,
    "accuracy": 3,
}
"""Criterion -> marks it is out of."""
FULL: dict[str, str] = {
    "recording": "every reading is recorded to the nearest 0.05 cm³",
    "table": "no reading is missing",
    "titres": "every titre is final minus initial",
    "concordance": "your best runs agree within 0.10 cm³",
    "selection": "the mean is taken from concordant runs only",
    "mean": "the mean is that of the runs you ticked",
    "calculation": "the result follows from your own mean titre",
    "figures": "the result is given to 3 significant figures",
    "accuracy": "the mean titre is within 0.20 cm³ of the expected 25.30 cm³",
}
"""Criterion -> reason for full marks."""
COLUMNS: dict[str, str] = {"Rough": "CDE", "1": "FGHI", "2": "JKLM", "3": "NOPQ"}
"""Run -> columns of its initial reading, final reading, titre and tick."""


def volume(text: str | None) -> Decimal | None:
    """Return a volume [cm³] with the digits as written."""
    return None if text is None else Decimal(text)


def run(row: int, label: str, initial: str | None, final: str | None, **more: Any) -> Tree:
    """Return a run; `more` overrides what an ordinary run holds."""
    parts = dict(zip(("initial", "final", "titre", "used"), COLUMNS[label], strict=False))
    begun, ended = volume(initial), volume(final)
    titre = None if begun is None or ended is None else ended - begun
    record: Tree = {
        "label": label,
        "kind": "rough" if label == "Rough" else "accurate",
        "initial": begun,
        "final": ended,
        "titre": titre,
        "claimed_titre": titre,
        "used": label != "Rough",
        "claimed_used": None if label == "Rough" else True,
        "cells": {part: f"Results!{column}{row}" for part, column in parts.items()},
        "why": "rough: never in the mean" if label == "Rough" else "agrees with the other runs in the mean",
        "likely": None,
    }
    return record | more


def marks(row: int, **lost: tuple[float, str] | tuple[float, str, str]) -> list[Tree]:
    """Return the marks of one student: full, but for those in `lost` (mark, reason, who gave it)."""
    given = []
    for criterion, out_of in SCHEME.items():
        mark, reason, *by = lost.get(criterion, (out_of, FULL[criterion]))
        cells = {"mean": [f"Results!R{row}"], "calculation": [f"Results!S{row}"], "figures": [f"Results!S{row}"]}
        given.append(
            {
                "criterion": criterion,
                "title": criterion,
                "mark": mark,
                "out_of": out_of,
                "reason": reason,
                "by": by[0] if by else "scheme",
                **({"scheme_mark": 0} if by else {}),
                "cells": cells.get(criterion, [f"Results!F{row}", f"Results!J{row}", f"Results!N{row}"]),
            }
        )
    return given


def finding(code: str, level: str, message: str, cells: list[str], **more: Any) -> Tree:
    """Return a finding; `more` may hold run, probability and evidence."""
    record: Tree = {"finding": code, "run": None, "level": level, "probability": None, "message": message}
    return record | {"cells": cells, "evidence": {}} | more


def steps(mean: Decimal) -> list[Tree]:
    """Return the working from a mean titre [cm³] to the result [mol/dm³]."""
    acid = 0.0500 * float(mean) / 1000
    alkali, strength = 2 * acid, PER_CM3 * float(mean)
    return [
        {
            "what": "amount of sulfuric acid in the mean titre",
            "formula": "n = c × V ÷ 1000",
            "numbers": f"0.0500 mol/dm³ × {mean} cm³ ÷ 1000",
            "value": acid,
            "unit": "mol",
            "shown": f"{acid:.6f} mol",
        },
        {
            "what": "amount of sodium hydroxide in the aliquot, 2 for each sulfuric acid",
            "formula": "n(NaOH) = 2 × n(H₂SO₄)",
            "numbers": f"2 × {acid:.6f} mol",
            "value": alkali,
            "unit": "mol",
            "shown": f"{alkali:.6f} mol",
        },
        {
            "what": "amount concentration of sodium hydroxide",
            "formula": "c = n × 1000 ÷ V",
            "numbers": f"{alkali:.6f} mol × 1000 ÷ 25.0 cm³",
            "value": strength,
            "unit": "mol/dm3",
            "shown": f"{strength:.3g} mol/dm³",
        },
    ]


def budget() -> Tree:
    """Return an uncertainty budget, largest part first."""
    parts = [
        ("endpoint", 0.05, "cm3", 0.20, 0.45),
        ("repeatability", 0.04, "cm3", 0.16, 0.29),
        ("pipette calibration", 0.024, "cm3", 0.10, 0.11),
        ("burette calibration", 0.029, "cm3", 0.11, 0.10),
        ("standard", 0.00003, "mol/dm3", 0.06, 0.05),
    ]
    keys = ("source", "value", "unit", "percent", "share")
    return {
        "school_percent": 0.94,
        "budget": [dict(zip(keys, part, strict=True)) for part in parts],
        "degrees_of_freedom": 18.4,
    }


def printed(value: float | None) -> Tree:
    """Return result, reference and error as people read them."""
    percent = None if value is None else 100 * (round(value, 4) - REFERENCE) / REFERENCE
    return {
        "result": None if value is None else f"{value:.4f}",
        "reference": str(REFERENCE),
        "percent": None if percent is None else Decimal(f"{percent:.1f}"),
    }


def result_of(mean: Decimal | None) -> Tree:
    """Return the keys that follow from a mean titre [cm³]."""
    if mean is None:
        return {
            "result": None,
            "percent_error": None,
            "printed": printed(None),
            "z": None,
            "z_prime": None,
            "comparison": None,
            "steps": [],
            "uncertainty": None,
        }
    value = PER_CM3 * float(mean)
    return {
        "result": {
            "value": value,
            "unit": "mol/dm3",
            "standard_uncertainty": 0.00031,
            "expanded_uncertainty": 0.00062,
            "coverage_factor": 2.0,
        },
        "percent_error": 100 * (value - REFERENCE) / REFERENCE,
        "printed": printed(value),
        "z": (value - REFERENCE) / SIGMA,
        "z_prime": None,
        "comparison": None,
        "steps": steps(mean),
        "uncertainty": budget(),
    }


def student(number: int, name: str, bench: str, mean: str | None, runs: list[Tree], **more: Any) -> Tree:
    """Return a student; `more` overrides what an ordinary student holds."""
    row = number + 1
    titre = volume(mean)
    own = None if titre is None else Decimal(f"{PER_CM3 * float(titre):.3g}")
    record: Tree = {
        "student": name,
        "number": number,
        "absent": False,
        "groups": {"Bench": bench},
        "about": {},
        "cells": [f"Results!A{row}", f"Results!B{row}"],
        "notes": [],
        "runs": runs,
        "inputs": [],
        "order": None,
        "concordant": True,
        "sets": [[one["label"] for one in runs if one["used"]]],
        "mean_titre": titre,
        "span": Decimal("0.05"),
        "expected_titre": Decimal("25.30"),
        "reference": reference(),
        **result_of(titre),
        "claimed": {"mean_titre": titre, "result": own},
        "findings": [],
        "marks": marks(row),
        "attention": None,
        "feedback": {
            "summary": "Your runs agree closely and your result follows from them.",
            "causes": [],
            "next": ["Keep reading to the nearest 0.05 cm³, with your eye level with the bottom of the meniscus."],
        },
        "sheet": f"feedback/{number:02d} S{number:02d}.pdf",
    } | more
    record["total"] = sum(one["mark"] for one in record["marks"])
    record["out_of"] = sum(one["out_of"] for one in record["marks"])
    doubt = dict.fromkeys(f"{what}_by_{whose}" for what in ("accuracy", "total") for whose in ("reference", "class"))
    record |= {"grade": None} | doubt
    return record


def reference() -> Tree:
    """Return the value that the class is held against."""
    return {"value": REFERENCE, "standard_uncertainty": 0.0004, "unit": "mol/dm3", "from": "practical"}


def clean() -> Tree:
    runs = [
        run(2, "Rough", "0.00", "25.80"),
        run(2, "1", "0.05", "25.35"),
        run(2, "2", "0.00", "25.25"),
        run(2, "3", "25.25", "50.00", titre=Decimal("24.75"), claimed_titre=Decimal("24.75"), used=False)
        | {"claimed_used": False, "why": "0.50 below the others"},
    ]
    found = finding(
        "not-concordant", "note", "Run 3 (24.75) lies 0.50 cm³ below the runs that agree.", ["Results!O2"], run="3"
    )
    return student(1, "S01", "1", "25.28", runs, findings=[found], sets=[["1", "2"]])


def overshoot() -> Tree:
    runs = [
        run(3, "Rough", "0.00", "26.10"),
        run(3, "1", "0.00", "25.25"),
        run(3, "2", "0.10", "25.85", used=False, why="0.45 above the others"),
        run(3, "3", "0.00", "25.30"),
    ]
    found = [
        finding(
            "overshoot",
            "check",
            "Run 2 (25.75) is 0.45 cm³ above the others: most likely stopped about 9 drops past the endpoint.",
            ["Results!K3", "Results!L3"],
            run="2",
            probability=0.93,
            evidence={"above": 0.45, "drops": 9, "others": {"misread-division": 0.03, "none of these": 0.04}},
        ),
        finding(
            "discordant-in-mean",
            "fault",
            "The mean 25.43 takes run 2 (25.75) in, which does not agree with the other two.",
            ["Results!M3", "Results!R3"],
            evidence={"mean": Decimal("25.43")},
        ),
    ]
    given = marks(3, selection=(0, "the mean takes in run 2, which lies 0.45 cm³ above the others"))
    feedback = {
        "summary": "Two of your runs agree within 0.05 cm³. Run 2 lies above them and does not belong in the mean.",
        "causes": ["Run 2 was most likely stopped past the endpoint."],
        "next": ["Add the last cm³ drop by drop, swirling after each."],
    }
    claimed = {"mean_titre": Decimal("25.43"), "result": Decimal("0.102")}
    return student(
        2, "S02", "1", "25.28", runs, findings=found, marks=given, feedback=feedback, claimed=claimed,
        attention={"rank": 6, "why": "the mean takes in a run that does not agree", "brief": "the mean takes in a run that does not agree"},
    )  # fmt: skip


def reversed_readings() -> Tree:
    runs = [
        run(4, "Rough", "0.00", "25.90"),
        run(4, "1", "25.40", "0.10", titre=Decimal("25.30"), claimed_titre=Decimal("25.30"))
        | {"why": "agrees with the other runs in the mean; its readings were taken in the other order"},
        run(4, "2", "0.00", "25.35"),
        run(4, "3", "0.00", "25.30"),
    ]
    found = finding(
        "reversed-readings",
        "check",
        "Run 1 begins at 25.40 and ends at 0.10: a burette only empties, so they stand in the other order.",
        ["Results!F4", "Results!G4"],
        run="1",
        probability=0.98,
    )
    given = marks(4, table=(0, "the initial and final reading of run 1 are swapped"))
    return student(3, "S03", "2", "25.32", runs, findings=[found], marks=given)


def subtraction_slip() -> Tree:
    runs = [
        run(5, "Rough", "0.00", "25.70"),
        run(5, "1", "0.00", "25.25"),
        run(5, "2", "0.20", "25.40", claimed_titre=Decimal("25.60")),
        run(5, "3", "0.00", "25.80", used=False, claimed_used=False, why="0.55 above the others"),
    ]
    found = finding(
        "subtraction-slip",
        "fault",
        "Run 2: 25.40 − 0.20 is 25.20, and 25.60 is written (0.40 too much): the readings look added.",
        ["Results!J5", "Results!K5", "Results!L5"],
        run="2",
        evidence={"titre": Decimal("25.20"), "written": Decimal("25.60")},
    )
    given = marks(5, titres=(0, "run 2: 25.40 − 0.20 is 25.20, not 25.60"))
    claimed = {"mean_titre": Decimal("25.43"), "result": Decimal("0.102")}
    return student(4, "S04", "2", "25.22", runs, findings=[found], marks=given, claimed=claimed)


def missing_reading() -> Tree:
    runs = [
        run(6, "Rough", None, "25.60"),
        run(6, "1", "0.10", "25.35"),
        run(6, "2", "0.00", "25.2", why="agrees with the other runs in the mean; recorded to one decimal"),
        run(6, "3", "0.00", None, used=False, claimed_titre=Decimal("25.30"), why="its final reading is missing"),
    ]
    found = [
        finding("missing-reading", "fault", "Run 3 has no final reading.", ["Results!N6", "Results!P6"], run="3"),
        finding("missing-reading", "note", "The rough has no initial reading.", ["Results!D6"], run="Rough"),
        finding("coarse-reading", "fault", "Run 2 ends at 25.2: one decimal.", ["Results!K6"], run="2"),
    ]
    given = marks(
        6,
        recording=(0, "the final reading of run 2 is recorded as 25.2, to one decimal"),
        table=(0, "the final reading of run 3 is missing"),
    )
    return student(
        5, "S05", "2", "25.22", runs, findings=found, marks=given,
        attention={"rank": 4, "why": "a reading is missing from run 3", "brief": "a reading is missing from run 3"},
        notes=["Comment in Results!O6: invented remark, “jet dripped”."],
    )  # fmt: skip


def no_concordant_runs() -> Tree:
    runs = [
        run(7, "Rough", "0.00", "27.40"),
        run(7, "1", "0.00", "24.10", used=False, claimed_used=False, why="1.20 below the nearest run"),
        run(7, "2", "0.05", "25.35", why="one of the two closest runs; they do not agree"),
        run(7, "3", "0.10", "26.55", why="one of the two closest runs; they do not agree"),
    ]
    found = finding(
        "no-concordant-runs",
        "fault",
        "No two runs agree within 0.10 cm³: 24.10, 25.30, 26.45. The mean of the two closest is shown, not concordant.",
        ["Results!H7", "Results!L7", "Results!P7"],
        evidence={"titres": [Decimal("24.10"), Decimal("25.30"), Decimal("26.45")]},
    )
    given = marks(
        7,
        concordance=(0, "no two runs agree within 0.10 cm³"),
        selection=(0, "there are no concordant runs to choose"),
        accuracy=(1, "the mean of your two closest runs is 0.58 cm³ above the expected 25.30 cm³"),
    )
    return student(
        6, "S06", "1", "25.88", runs, concordant=False, sets=[], span=Decimal("1.15"), findings=[found], marks=given,
        attention={"rank": 1, "why": "no two runs agree: the result rests on the two closest", "brief": "no two runs agree: the result rests on the two closest"},
    )  # fmt: skip


def absent() -> Tree:
    nothing = {"mean_titre": None, "result": None}
    return student(
        7, "S07", "2", None, [], absent=True, concordant=False, sets=[], span=None, marks=[], claimed=nothing,
        feedback={"summary": "No readings were handed in.", "causes": [], "next": []}, sheet=None,
    )  # fmt: skip


def hostile_name() -> Tree:
    runs = [
        run(9, "Rough", "0.00", "25.90"),
        run(9, "1", "0.00", "25.30"),
        run(9, "2", "0.10", "25.40"),
        run(9, "3", "0.00", "25.35"),
    ]
    found = finding(
        "ratio-ignored",
        "fault",
        "The result 0.0506 is what comes out when the ratio 2 NaOH : 1 H₂SO₄ is left out: 0.0500 × 25.32 ÷ 25.0.",
        ["Results!S9"],
        probability=0.97,
        evidence={"working": "0.0500 × 25.32 ÷ 25.0 = 0.0506", "written": "0.0506"},
    )
    given = marks(9, calculation=(1, "the mole ratio is left out: 0.0506 is half of what your mean titre gives"))
    return student(
        8, "<script>alert(1)</script>", "1", "25.32", runs, findings=[found], marks=given,
        claimed={"mean_titre": Decimal("25.32"), "result": Decimal("0.0506")}, sheet="feedback/08 script.pdf",
        attention={"rank": 3, "why": "the mole ratio is left out of the working", "brief": "the mole ratio is left out of the working"},
    )  # fmt: skip


def several_largest_sets() -> Tree:
    runs = [
        run(10, "Rough", "0.00", "25.75"),
        run(10, "1", "0.00", "25.20", used=False, claimed_used=True)
        | {"why": "agrees with run 2 as well: a mean of 1 and 2 is as right as one of 2 and 3"},
        run(10, "2", "0.00", "25.30"),
        run(10, "3", "0.00", "25.40", claimed_used=False),
    ]
    return student(
        9, "S09", "2", "25.35", runs, sets=[["2", "3"], ["1", "2"]], span=Decimal("0.10"),
        claimed={"mean_titre": Decimal("25.25"), "result": Decimal("0.101")},
    )  # fmt: skip


def refilled() -> Tree:
    runs = [
        run(11, "Rough", "0.00", "26.00"),
        run(11, "1", "24.60", "1.00", titre=Decimal("26.40"), claimed_titre=Decimal("26.40"), used=False)
        | {"why": "1.05 above the others", "claimed_used": False},
        run(11, "2", "0.00", "25.35"),
        run(11, "3", "0.00", "25.35"),
    ]
    found = [
        finding(
            "refilled",
            "note",
            "Run 1: the burette was filled again; 24.60 to 50.00 and 0.00 to 1.00 add up to 26.40.",
            ["Results!F11", "Results!G11"],
            run="1",
            evidence={"parts": [["24.60", "50.00"], ["0.00", "1.00"]]},
        ),
        finding(
            "misread-division",
            "check",
            "Run 1 (26.40) is 1.05 cm³ above the others: a reading out by a whole cm³ would explain it.",
            ["Results!G11"],
            run="1",
            probability=0.58,
            evidence={"likely": Decimal("25.40"), "others": {"overshoot": 0.37, "none of these": 0.05}},
        ),
    ]
    runs[1]["likely"] = Decimal("25.40")
    given = marks(11, recording=(1, "accepted: the readings were checked at the bench", "teacher"))
    return student(
        10, "S10", "1", "25.35", runs, findings=found, marks=given, span=Decimal("0.00"),
        attention={"rank": 5, "why": "run 1 may be misread by a whole cm³; it is not in the mean", "brief": "run 1 may be misread by a whole cm³; it is not in the mean"},
    )  # fmt: skip


def wrong_aliquot() -> Tree:
    runs = [
        run(12, "Rough", "0.00", "20.60"),
        run(12, "1", "0.00", "20.25"),
        run(12, "2", "20.25", "40.45"),
        run(12, "3", "0.00", "20.25"),
    ]
    found = finding(
        "wrong-aliquot",
        "check",
        "All runs fit a 20.0 cm³ pipette: 20.23 is 0.80 of the expected 25.30, and the runs agree among themselves.",
        ["Results!H12", "Results!L12", "Results!P12"],
        probability=0.88,
        evidence={"aliquot": 20.0, "ratio": 0.80},
    )
    given = marks(12, accuracy=(0, "the mean titre is 5.07 cm³ below the expected 25.30 cm³"))
    return student(
        11, "Ünal Ωmega-Quillfeather-Bracegirdle (invented), group £100 $x_1$ & co.", "2", "20.23", runs,
        findings=[found], marks=given, sheet="feedback/11 Unal.pdf",
        attention={"rank": 2, "why": "all runs agree, and lie a fifth below the expected titre", "brief": "all runs agree, and lie a fifth below the expected titre"},
    )  # fmt: skip


def equal_to_another() -> Tree:
    runs = [
        run(13, "Rough", "0.00", "25.80"),
        run(13, "1", "0.05", "25.35"),
        run(13, "2", "0.00", "25.25"),
        run(13, "3", "0.10", "25.40"),
    ]
    return student(12, "S12", "1", "25.28", runs)


def class_figures(students: list[Tree]) -> Tree:
    """Return the figures of the class; means and spreads are typed in, not worked out here."""
    by_criterion = []
    for criterion, out_of in SCHEME.items():
        given = [m["mark"] for one in students for m in one["marks"] if m["criterion"] == criterion]
        full = sum(mark == out_of for mark in given)
        by_criterion.append(
            {"criterion": criterion, "title": criterion, "out_of": out_of, "of": len(given), "full": full}
            | {"mean": round(sum(given) / len(given), 2), "pending": 0}
        )
    totals = [one["total"] for one in students if one["marks"]]
    bands = [(mark, REFERENCE - PER_CM3 * within, REFERENCE + PER_CM3 * within) for within, mark in BANDS]
    ranked = sorted((one for one in students if one["attention"]), key=lambda one: int(one["attention"]["rank"]))
    return {
        "students": len(students),
        "absent": 1,
        "results": 11,
        "mean": 0.09954,
        "sd": 0.00622,
        "robust_mean": 0.10116,
        "robust_sd": 0.00031,
        "repeatability_sd": 0.00017,
        "reproducibility_sd": 0.00063,
        "sigma": SIGMA,
        "expected_titre": Decimal("25.30"),
        "mean_titre": Decimal("25.31"),
        "marks": {
            "mean": round(sum(totals) / len(totals), 2),
            "out_of": sum(SCHEME.values()),
            "mean_percent": round(100 * sum(totals) / len(totals) / sum(SCHEME.values()), 2),
            "by_criterion": by_criterion,
        },
        "bands": [{"mark": mark, "low": low, "high": high} for mark, low, high in bands],
        "attention": [one["student"] for one in ranked],
        "statistics": {
            **dict.fromkeys(("reference_test", "drift", "relative", "mandel", "components", "budget")),
            **{"standardisation": None, "groups": [], "by_reference": [], "screening": []},
            "h": {"what": "between-group consistency statistic of ISO 5725-2", "Bench 1": 0.7, "Bench 2": -0.7},
        },
        "findings": class_findings(),
        "looked_for": looked_for(),
    }


BANDS = ((0.20, 3), (0.40, 2), (0.60, 1))
"""Bands of the accuracy criterion: within [cm³], mark."""


def looked_for() -> list[Tree]:
    """Return two rows of what is looked for at the bench, one of each kind."""
    rows = [
        ("Past the endpoint", "run", "overshoot", "+", "up, 0.10 to 1.40 cm³", 0.022, "colour left in the flask"),
        ("Pipette wet with water", "student", None, "-", "down, 1 to 5 % of the titre", 0.0006, "how it was rinsed"),
    ]
    return [
        {
            "what": what,
            "scope": scope,
            "finding": code,
            "direction": direction,
            "effect": effect,
            "rate": rate,
            "looks_like": "titres away from the others",
            "tell": "Go dropwise near the endpoint.",
            "check": check,
        }
        for what, scope, code, direction, effect, rate, check in rows
    ]


def class_findings() -> list[Tree]:
    return [
        finding(
            "group-shift",
            "check",
            "Bench 2 lies 0.06 cm³ below the rest, about a drop: technique or the burette rather than a bottle.",
            ["Results!B4", "Results!B5", "Results!B6", "Results!B10", "Results!B12"],
            probability=0.41,
            evidence={"group": "Bench 2", "shift": -0.06, "unit": "cm3"},
        ),
        finding(
            "common-fault",
            "note",
            "2 of 11 students read to one decimal or leave a reading out.",
            ["Results!K6", "Results!P6"],
            evidence={"finding": "missing-reading", "students": 2, "of": 11},
        ),
    ]


def practical() -> Tree:
    """Return the practical as used."""
    return {
        "title": "Strength of a drain cleaner (invented)",
        "equation": "2 NaOH + H2SO4 -> Na2SO4 + 2 H2O",
        "indicator": "methyl orange",
        "cautions": [
            "Wear eye protection.",
            "Sodium hydroxide is corrosive; dilute sulfuric acid irritates.",
            "Follow the local risk assessment and the safety data sheets; ask the qualified person in charge.",
        ],
        "burette": {
            "solution": "H2SO4",
            "concentration": 0.05,
            "capacity": 50.0,
            "division": 0.1,
            "class": "B",
            "tolerance": 0.1,
        },
        "flask": {"solution": "NaOH", "aliquot": 25.0, "class": "B", "tolerance": 0.06},
        "result": {
            "of": "NaOH",
            "quantity": "amount concentration",
            "significant_figures": 3,
            "report_original": False,
        },
        "reference": {"value": REFERENCE, "standard_uncertainty": 0.0004},
        "concordance": {"within": 0.10, "at_least": 2},
        "marks": [{"criterion": name, "mark": mark} for name, mark in SCHEME.items() if name != "accuracy"]
        + [{"criterion": "accuracy", "bands": [{"within": within, "mark": mark} for within, mark in BANDS]}],
        "sheet": Sheet().model_dump(mode="json"),
        "unit": "mol/dm3",
        "derived": {
            "equation": "2 NaOH + H₂SO₄ → Na₂SO₄ + 2 H₂O",
            "cautions": [],
            "expected_titre": Decimal("25.30"),
            "mole_ratio": {"NaOH": 2, "H2SO4": 1},
            "molar_mass": {"NaOH": 39.997, "H2SO4": 98.072},
        },
    }


def example_tree() -> Tree:
    """Return the whole tree, fresh at each call."""
    students = [
        clean(),
        overshoot(),
        reversed_readings(),
        subtraction_slip(),
        missing_reading(),
        no_concordant_runs(),
        absent(),
        hostile_name(),
        several_largest_sets(),
        refilled(),
        wrong_aliquot(),
        equal_to_another(),
    ]
    ignored = [
        {"cell": "Results!A15", "why": "a line under the table: “invented data”"},
        {"cell": "Results!U1", "why": "a header that is not known: “Weather”"},
    ]
    return {
        "format": 1,
        "made_by": "labmark 0.1.0",
        "practical": practical(),
        "source": {
            "file": "invented class.xlsx",
            "sha256": "0f" * 32,
            "sheets": ["Results"],
            "understood": ["One row per student, runs across the page.", "Volumes are in cm³."],
            "notes": ["Row 14 is hidden; it was read."],
        },
        "cells": {
            "filled": 223,
            "used": 220,
            "ignored": 2,
            "rejected": 1,
            "ignored_cells": ignored,
            "rejected_cells": [{"cell": "Results!O6", "why": "“drip” is not a number"}],
        },
        "reference": reference(),
        "students": students,
        "class": class_figures(students),
        "decisions": [
            {"student": "S10", "what": "mark", "of": "recording", "value": 1, "was": 0, "stale": False},
        ],
    }
