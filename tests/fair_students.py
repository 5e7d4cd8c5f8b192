"""Students whose fair mark is beyond argument, as a teacher would type their sheet, each with the reason of every mark.

All figures are reckoned by hand; a calculator is enough to follow them. People and settings are invented. Full marks are
the rule: a student's `lost` names only what differs from them. The sums behind the reasons:

DRAIN      2 NaOH + H2SO4, acid 0.0500 in the burette, 25.0 of alkali: c = titre x 0.0500 x 2 / 25.0 = titre x 0.004
           mol/dm³; the reference 0.1012 expects 25.30 cm³; bands of accuracy 0.20, 0.40 and 0.60 cm³ for 3, 2 and 1
DILUTED    the same with 10.0 made up to 250.0 first: c = titre x 0.1 mol/dm³; the reference 2.53 expects 25.30 cm³
VINEGAR    NaOH 0.1000, 25.0 of vinegar diluted 25.0 to 250.0: titre x 0.1000 / 25.0 x 10 x 60.05 / 10 = titre x 0.2402
           g in 100 cm³; the reference 5.12 expects 21.31 cm³
EGGSHELLS  50.0 of HCl 1.000 on 1.500 g, made up to 250.0, 25.0 titrated with NaOH 0.1000: left = titre / 1000 mol,
           reacted = 0.05000 - left, CaCO3 = reacted / 2, % = CaCO3 x 100.09 / 1.500 x 100; 93.2 % expects 22.06 cm³
CRYSTALS   3.25 g in 250.0, 25.0 titrated with HCl 0.1000: Na2CO3 = titre x 0.0005 mol, M = 3.25 / that,
           x = (M - 106.0) / 18.0; the reference 9.8 expects 23.01 cm³
HARDNESS   EDTA 0.0100, 50.0 of water: titre x 0.0100 / 50.0 x 100.09 = titre x 0.02002 g/dm³; 0.284 expects 14.19 cm³
PEROXIDE   KMnO4 0.0200, 25.0 of peroxide diluted 10.0 to 250.0: titre x 0.0200 x 5 / 2 / 25.0 x 25 = titre x 0.05
           mol/dm³; x 22.4 / 2 gives titre x 0.56 vol; 20.0 expects 35.71 cm³
STANDARD   20.0 of standard 0.1000, the unknown NaOH in the burette: c = 2.000 / titre; 0.0985 expects 20.30 cm³
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

PENDING = "pending"
"""The mark waits: null, pending, and left out of total and out_of."""
OUT = "left out"
"""The criterion is left out of total and out_of: not listed, or null without pending."""
KEPT = "nothing lost"
"""Full marks or left out."""
ANY = "not asked"
"""Nothing is said of this mark."""

SCHEME = """
[[marks]]
criterion = "recording"
mark = 1
[[marks]]
criterion = "table"
mark = 1
[[marks]]
criterion = "titres"
mark = 1
[[marks]]
criterion = "concordance"
bands = [ { within = 0.10, mark = 2 }, { within = 0.20, mark = 1 } ]
[[marks]]
criterion = "selection"
mark = 1
[[marks]]
criterion = "mean"
mark = 1
[[marks]]
criterion = "calculation"
mark = 4
[[marks]]
criterion = "figures"
mark = 1
[[marks]]
criterion = "accuracy"
bands = [ { within = 0.20, mark = 3 }, { within = 0.40, mark = 2 }, { within = 0.60, mark = 1 } ]
"""
FULL = {
    "recording": 1,
    "table": 1,
    "titres": 1,
    "concordance": 2,
    "selection": 1,
    "mean": 1,
    "calculation": 4,
    "figures": 1,
    "accuracy": 3,
}

DRAIN = (
    """
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
value = 0.1012
standard_uncertainty = 0.0004
"""
    + SCHEME
)
DILUTED = DRAIN.replace("aliquot = 25.0", "aliquot = 25.0\ndilution = { taken = 10.0, made_up_to = 250.0 }").replace(
    "value = 0.1012\nstandard_uncertainty = 0.0004", "value = 2.53\nstandard_uncertainty = 0.01"
)
UNKNOWN = DRAIN.replace("[reference]\nvalue = 0.1012\nstandard_uncertainty = 0.0004\n", "")
SLIP_TWO = DRAIN.replace("mark = 4", "mark = 4\nslip = 2")
BENCH_MANNERS = DRAIN + '[[marks]]\ncriterion = "tidy bench"\nby = "teacher"\nmark = 2\n'
GRADED = DRAIN + (
    '[[grades]]\nat_least = 80\ngrade = "A"\n[[grades]]\nat_least = 50\ngrade = "B"\n'
    '[[grades]]\nat_least = 0\ngrade = "C"\n'
)
GRADED_BENCH = GRADED + '[[marks]]\ncriterion = "tidy bench"\nby = "teacher"\nmark = 2\n'
VINEGAR = (
    """
title = "Acid in a pickling vinegar"
equation = "CH3COOH + NaOH -> CH3COONa + H2O"
[burette]
solution = "NaOH"
concentration = 0.1000
[flask]
solution = "CH3COOH"
aliquot = 25.0
dilution = { taken = 25.0, made_up_to = 250.0 }
[result]
of = "CH3COOH"
quantity = "percent mass by volume"
[reference]
value = 5.12
standard_uncertainty = 0.03
"""
    + SCHEME
)
EGGSHELLS = (
    """
title = "Calcium carbonate in eggshells"
equation = "HCl + NaOH -> NaCl + H2O"
[burette]
solution = "NaOH"
concentration = 0.1000
[flask]
solution = "HCl"
aliquot = 25.0
[excess]
solution = "HCl"
equation = "CaCO3 + 2 HCl -> CaCl2 + H2O + CO2"
concentration = 1.000
volume = 50.0
made_up_to = 250.0
[sample]
mass = 1.500
[result]
of = "CaCO3"
quantity = "percent by mass"
[reference]
value = 93.2
standard_uncertainty = 0.5
"""
    + SCHEME
)
CRYSTALS = (
    """
title = "Water in washing soda crystals"
equation = "Na2CO3 + 2 HCl -> 2 NaCl + CO2 + H2O"
[burette]
solution = "HCl"
concentration = 0.1000
[flask]
solution = "Na2CO3"
aliquot = 25.0
[sample]
mass = 3.25
made_up_to = 250.0
[result]
of = "Na2CO3"
quantity = "water of crystallisation"
[reference]
value = 9.8
standard_uncertainty = 0.1
"""
    + SCHEME
)
HARDNESS = (
    """
title = "Hardness of tap water"
equation = "CaCO3 + C10H14N2Na2O8 -> C10H12CaN2Na2O8 + CO2 + H2O"
[burette]
solution = "C10H14N2Na2O8"
concentration = 0.0100
[flask]
solution = "CaCO3"
aliquot = 50.0
[result]
of = "CaCO3"
quantity = "mass concentration"
[reference]
value = 0.284
standard_uncertainty = 0.002
"""
    + SCHEME
)
PEROXIDE = (
    """
title = "Volume strength of hydrogen peroxide"
equation = "2 MnO4^- + 5 H2O2 + 6 H^+ -> 2 Mn^2+ + 5 O2 + 8 H2O"
[burette]
solution = "MnO4^-"
concentration = 0.0200
[flask]
solution = "H2O2"
aliquot = 25.0
dilution = { taken = 10.0, made_up_to = 250.0 }
[result]
of = "H2O2"
quantity = "volume strength"
[reference]
value = 20.0
standard_uncertainty = 0.2
"""
    + SCHEME
)
STANDARD = (
    """
title = "Standardising sodium hydroxide"
equation = "KHC8H4O4 + NaOH -> KNaC8H4O4 + H2O"
[burette]
solution = "NaOH"
[flask]
solution = "KHC8H4O4"
concentration = 0.1000
aliquot = 20.0
[result]
of = "NaOH"
significant_figures = 4
[reference]
value = 0.0985
standard_uncertainty = 0.0003
[concordance]
within = 0.10
at_least = 3
"""
    + SCHEME
)

ROUGH_AND = "Student | Rough initial | Rough final | Rough titre"
RUN = " | Run {0} initial | Run {0} final | Run {0} titre | Run {0} used"
TWO_RUNS = ROUGH_AND + RUN.format(1) + RUN.format(2) + " | Mean titre | Result"
THREE_RUNS = ROUGH_AND + RUN.format(1) + RUN.format(2) + RUN.format(3) + " | Mean titre | Result"
RIGHT = "0.00 | 25.80 | 25.80 | 0.00 | 25.30 | 25.30 | y | 0.50 | 25.85 | 25.35 | y | 25.33 | 0.101"
"""Mean (25.30 + 25.35) / 2 = 25.325, so 25.33; 25.325 x 0.004 = 0.1013, so 0.101; 0.02 cm³ from 25.30."""
MATES = (
    "Ben | 0.00 | 25.70 | 25.70 | 0.10 | 25.40 | 25.30 | y | 0.20 | 25.45 | 25.25 | y | 25.28 | 0.101",
    "Cleo | 1.00 | 26.90 | 25.90 | 2.00 | 27.35 | 25.35 | y | 3.00 | 28.30 | 25.30 | y | 25.33 | 0.101",
    "Dai | 0.30 | 25.80 | 25.50 | 0.40 | 25.60 | 25.20 | y | 0.60 | 25.90 | 25.30 | y | 25.25 | 0.101",
    "Eva | 4.10 | 29.70 | 25.60 | 5.05 | 30.45 | 25.40 | y | 6.15 | 31.45 | 25.30 | y | 25.35 | 0.101",
)
"""Four of the class who did it right: titres within 0.10 cm³ of 25.30 and of one another."""
MATES_OF_THREE = tuple(each.replace(" | y | 25.", " | y | | | | | 25.") for each in MATES)


@dataclass(frozen=True)
class Case:
    """One student of a class, and what is fair."""

    name: str
    """What the case is about, in a few words."""
    student: str
    reason: str
    rows: tuple[str, ...]
    """The sheet as typed, cells parted by " | "; an apostrophe before a cell makes it text in a workbook, and
    `^{1}` is superscript there."""
    lost: Mapping[str, object] = field(default_factory=dict)
    """Criterion -> mark, PENDING, OUT, KEPT or ANY, where it is not full marks."""
    finds: tuple[str, ...] = ()
    """Findings that must be there; "a or b" stands for either."""
    may: tuple[str, ...] = ()
    """Findings beyond notes that may be there besides; ("*",) for any."""
    says: str = ""
    """Words that stand in one of the student's findings or in a rejected cell's reason, in any case."""
    practical: str = DRAIN
    file: str = "class.csv"
    shown: str = "General"
    """Number format of the number cells of a workbook."""
    shown_everywhere: bool = False
    """Also of numbers with more decimals than it shows."""
    names: tuple[str, ...] = ()
    """Everybody who must be in results.json, in order; left out, it is not looked at."""
    absent: bool = False
    first_of_class: str = ""
    """A word in the first finding about the class."""
    grade: object = ANY
    typed: Mapping[str, tuple[float, str]] = field(default_factory=dict)
    """Cell of a workbook -> (value, number format), where a formula or a format made it."""
    sheet: str = "Results"
    """Name of the workbook's sheet."""

    @property
    def id(self) -> str:
        return self.name.replace(" ", "-")


def two(
    name: str, row: str, reason: str, header: str = TWO_RUNS, mates: tuple[str, ...] = MATES, **more: object
) -> Case:
    """A student of a plain sheet with a rough and two runs, first among four others; `row` begins with the name."""
    who = (
        row.split(" | ")[header.split(" | ").index("Student")]
        if "Student" in header.split(" | ")
        else row.partition(" | ")[0]
    )
    return Case(name, who.strip("'"), reason, (header, row, *mates), **more)  # type: ignore[arg-type]


def three(name: str, row: str, reason: str, **more: object) -> Case:
    """The same with three runs."""
    return two(name, row, reason, THREE_RUNS, MATES_OF_THREE, **more)


def plain(name: str, titre: str, other: str, mean: str, result: str, before: str = "") -> str:
    """A row of somebody who did it right, from zero each time."""
    runs = f"0.00 | {titre} | {titre} | y | 0.00 | {other} | {other} | y"
    return f"{name} | {before}0.00 | 26.90 | 26.90 | {runs} | {mean} | {result}"


NAMES_IN_CLASS = ("Ben", "Cleo", "Dai", "Eva")

NAMES = [
    two(
        f"a student called {who}",
        f"{who} | {RIGHT}",
        "A row with readings is a student, whatever the name.",
        names=(who, *NAMES_IN_CLASS),
    )
    for who in ("Mean Sok", "Average, Joe", "Total, Ana", "Lea SD", "Max", "Blank, Petra", "Min Ho", "Absent, Rufus")
] + [
    two(
        "a line of class means below",
        f"Ada | {RIGHT}",
        "A line without readings that says Class mean is no student; Ada did it right.",
        mates=(*MATES, "Class mean | | | 25.70 | | | | | | | | | 25.31 | 0.101"),
        names=("Ada", *NAMES_IN_CLASS),
    ),
]

COMMAS = "0,00 | 25,80 | 25,80 | 0,00 | 25,30 | 25,30 | y | 0,50 | 25,85 | 25,35 | y | 25,33 | 0,101"
DECIMALS = [
    two("commas among points", f"Kofi | {COMMAS}", "25,30 at the precision of a burette is 25.30; RIGHT in commas."),
    two(
        "points among commas",
        f"Kofi | {RIGHT}",
        "25.30 is 25.30 whatever the others type.",
        mates=tuple(each.replace(".", ",") for each in MATES),
    ),
    two(
        "all in commas",
        f"Kofi | {COMMAS}",
        "RIGHT in commas, as everybody's.",
        mates=tuple(each.replace(".", ",") for each in MATES),
    ),
    two(
        "one reading corrected as text",
        "Lars | 0 | 25.8 | 25.8 | 0 | 25.3 | 25.3 | y | 20.4 | '45.75 | 25.35 | y | 25.33 | 0.101",
        "45.75 - 20.40 = 25.35; a text 45.75 is 45.75 in a workbook of numbers too.",
        file="class.xlsx",
        shown="0.00",
    ),
    Case(
        "a mean of three decimals beside a comma elsewhere",
        "Mia",
        "76.15 / 3 = 25.383, and 25.380 is 25.38 with a spare zero; x 0.004 = 0.10153, so 0.102; off by 0.08.",
        (
            THREE_RUNS,
            "Mia | 0.00 | 25.90 | 25.90 | 0.00 | 25.35 | 25.35 | y | 0.00 | 25.40 | 25.40 | y | 1.00 | 26.40 | 25.40 | y | '25.380 | 0.102",
            *MATES_OF_THREE[:3],
            MATES_OF_THREE[3].replace("| 30.45", "| '30,45"),
        ),
        file="class.xlsx",
        shown="0.00",
    ),
    two(
        "a comma reading to one decimal",
        f"Noor | {COMMAS.replace('25,85', '25,8').replace('0,50', '0,45')}",
        "25,8 is 25.8, one decimal where two are asked: recording; 25.80 - 0.45 = 25.35 as written.",
        lost={"recording": 0},
        finds=("coarse-reading",),
    ),
]

SUPERSCRIPTS = [
    two(
        "a footnote mark on a reading",
        f"Olu | {RIGHT.replace('25.85', '25.85¹')}",
        "¹ points to a note; the reading is 25.85.",
    ),
    two(
        "a footnote mark on the mean",
        f"Olu | {RIGHT.replace('25.33', '25.33²')}",
        "² points to a note; the mean is 25.33.",
    ),
    two("a circled digit", f"Olu | {RIGHT.replace('25.85', '25.85①')}", "① points to a note; the reading is 25.85."),
    two("a subscript", f"Olu | {RIGHT.replace('25.85', '25.85₂')}", "₂ points to a note; the reading is 25.85."),
    two(
        "a superscript in rich text",
        f"Olu | {RIGHT.replace('25.85', '25.85^{1}')}",
        "Raised 1 is a footnote mark; the reading is 25.85, not 25.851.",
        file="class.xlsx",
        shown="0.00",
    ),
]

PAIRED = "Student | Rough | Run 1 | Run 2 | Mean titre | Result"
PAIRED_MATES = (
    "Ben | 0.00 - 25.70 | 0.10 - 25.40 | 0.20 - 25.45 | 25.28 | 0.101",
    "Cleo | 1.00 - 26.90 | 2.00 - 27.35 | 3.00 - 28.30 | 25.33 | 0.101",
    "Dai | 0.30 - 25.80 | 0.40 - 25.60 | 0.60 - 25.90 | 25.25 | 0.101",
)
PAIRS = [
    two(
        f"both readings in one cell as {form.format('0.00', '25.30')}",
        "Pia | "
        + " | ".join(form.format(*each) for each in (("0.00", "25.80"), ("0.00", "25.30"), ("0.50", "25.85")))
        + " | 25.33 | 0.101",
        "Titres 25.30 and 25.35: RIGHT in other cells; no titre column, so no mark for subtraction.",
        PAIRED,
        PAIRED_MATES,
        lost={"titres": OUT},
    )
    for form in ("{} - {}", "{}; {}", "{} {}", "{} and {}", "from {} to {}", "({}, {})", "{} → {}", "{} to {}")
] + [
    two(
        "both readings in one cell with commas",
        "Pia | 0,00-25,80 | 0,00-25,30 | 0,50-25,85 | 25,33 | 0,101",
        "The same in commas.",
        PAIRED,
        PAIRED_MATES,
        lost={"titres": OUT},
    ),
]

LISTED = (
    ROUGH_AND
    + "".join(f" | Run {n} initial | Run {n} final | Run {n} titre" for n in (1, 2, 3))
    + " | Runs used | Mean titre | Result"
)
LISTED_MATES = (
    "Ben | 0.00 | 25.70 | 25.70 | 0.10 | 25.40 | 25.30 | 0.20 | 25.45 | 25.25 | 0.00 | 25.60 | 25.60 | 1, 2 | 25.28 | 0.101",
    "Cleo | 1.00 | 26.90 | 25.90 | 2.00 | 27.35 | 25.35 | 3.00 | 28.30 | 25.30 | 0.00 | 25.70 | 25.70 | 1, 2 | 25.33 | 0.101",
)
LISTS = [
    two(
        f"runs used listed as {used}",
        f"Quin | 0.00 | 25.80 | 25.80 | 0.00 | 25.30 | 25.30 | 0.00 | 25.90 | 25.90 | 0.50 | 25.85 | 25.35 | {used} | 25.33 | 0.101",
        "Runs 1 and 3 (25.30, 25.35) agree, run 2 (25.90) does not: rightly chosen; the mean is 25.325.",
        LISTED,
        LISTED_MATES,
        may=("not-concordant", "overshoot", "misread-division", "read-upside-down"),
    )
    for used in ("1,3", "1 and 3", "1 & 3", "runs 1 and 3", "1; 3")
]

MARGINS = [
    two(
        "a note in the margin",
        f"Rosa | {RIGHT} | run 3 spilt, not done",
        "A note without a heading is no run; two runs that agree are enough.",
        mates=(*MATES[:3], MATES[3] + " | 2 nice ones"),
    ),
    two(
        "a note below the table",
        f"Rosa | {RIGHT}",
        "A line of text below is nobody's.",
        mates=(*MATES, "", "2 = repeated after lunch, 25.30 checked by me"),
        names=("Rosa", *NAMES_IN_CLASS),
    ),
    two(
        "a comment with numbers",
        f"Rosa | {RIGHT} | run 2 was 1 drop over, 25.40 at first",
        "A comment is never a reading.",
        TWO_RUNS + " | Comment",
    ),
    two(
        "away in a reading cell",
        "Sami | | | | ABSENT - dentist | | | | | | | | |",
        "Absent: no marks out of nothing, not 0 of 15.",
        absent=True,
    ),
    two(
        "away in the last cell",
        "Sami | | | | | | | | | | | | | away (ill)",
        "Absent: no marks out of nothing.",
        absent=True,
    ),
    two("only a name", "Sami | | | | | | | | | | | | |", "Nothing but a name: absent.", absent=True),
    two(
        "absent in the rough",
        "Sami | absent today | | | | | | | | | | | |",
        "Absent: no marks out of nothing.",
        absent=True,
    ),
]

HEADED = [
    two(
        f"a result headed {heading}",
        f"Tove | {RIGHT}",
        "The heading's brackets and exponents are units, not runs: RIGHT.",
        TWO_RUNS.replace("Result", heading),
    )
    for heading in (
        "[NaOH] / mol L-1",
        "c(NaOH) in mol/l",
        "[NaOH] (M)",
        "Concentration of NaOH / mol dm^-3",
        "c / mol·dm⁻³",
    )
] + [
    two(
        "a result in ppm under mg/L",
        "Uma | 0.00 | 14.60 | 14.60 | 0.00 | 14.20 | 14.20 | y | 0.50 | 14.70 | 14.20 | y | 14.20 | 284 ppm",
        "14.20 x 0.02002 = 0.2843 g/dm³ = 284 mg/L = 284 ppm of a dilute solution in water; off by 0.01 cm³.",
        TWO_RUNS.replace("Result", "Result (mg/L)"),
        ("Ben | 0.00 | 14.50 | 14.50 | 0.10 | 14.25 | 14.15 | y | 0.20 | 14.45 | 14.25 | y | 14.20 | 284",),
        practical=HARDNESS,
    ),
    two(
        "volumes headed with their unit",
        f"Tove | {RIGHT}",
        "cm³ in a heading is a unit, not a third run.",
        TWO_RUNS.replace("initial", "initial / cm³").replace("final", "final (cm3)").replace("titre", "titre [mL]"),
    ),
]

BARE = "Student | Rough initial | Rough final | Run 1 initial | Run 1 final | Run 2 initial | Run 2 final"
LACKING = [
    two(
        "titre column for the rough alone",
        "Vera | 0.00 | 25.80 | 25.80 | 0.00 | 25.30 | 0.50 | 25.85 | 25.33 | 0.101",
        "Runs have no column for a titre, so none is missing; no ticks, but the mean shows the choice.",
        ROUGH_AND + " | Run 1 initial | Run 1 final | Run 2 initial | Run 2 final | Mean titre | Result",
        ("Ben | 0.00 | 25.70 | 25.70 | 0.10 | 25.40 | 0.20 | 25.45 | 25.28 | 0.101",),
    ),
    two(
        "rough titrations alone",
        "Vera | 0.00 | 25.40 | 25.40",
        "The sheet has no room for accurate runs: what rests on them costs nobody anything.",
        ROUGH_AND,
        ("Ben | 0.00 | 25.70 | 25.70", "Cleo | 1.00 | 26.90 | 25.90"),
        lost={"concordance": OUT, "selection": OUT, "mean": OUT, "calculation": OUT, "figures": OUT, "accuracy": OUT},
        may=("too-few-runs",),
    ),
    two(
        "no column for results",
        f"Vera | {RIGHT.rpartition(' | ')[0]}",
        "No column for a result: nothing to reckon and no figures to look at.",
        TWO_RUNS.replace(" | Result", ""),
        tuple(each.rpartition(" | ")[0] for each in MATES),
        lost={"calculation": OUT, "figures": OUT},
    ),
    two(
        "readings alone",
        "Vera | 0.00 | 25.80 | 0.00 | 25.30 | 0.50 | 25.85",
        "Readings are all that was asked for, and they are right and agree to 0.05.",
        BARE,
        ("Ben | 0.00 | 25.70 | 0.10 | 25.40 | 0.20 | 25.45",),
        lost={"titres": OUT, "selection": OUT, "mean": OUT, "calculation": OUT, "figures": OUT},
    ),
    two(
        "titres alone",
        "Vera | 25.80 | 25.30 | 25.35 | 25.33 | 0.101",
        "No columns for readings: nothing can be said of recording or subtraction, and nobody loses.",
        "Student | Rough titre | Run 1 titre | Run 2 titre | Mean titre | Result",
        ("Ben | 25.70 | 25.30 | 25.25 | 25.28 | 0.101",),
        lost={"recording": KEPT, "titres": OUT},
    ),
    two(
        "no reference",
        f"Vera | {RIGHT}",
        "Without a reference in the practical the class of five is what the titres are held against: 25.325 beside about 25.30.",
        practical=UNKNOWN,
        lost={"accuracy": KEPT},
    ),
]

LAB_BOOK = (
    " | Rough | 1 | 2",
    "Final / cm³ | 25.80 | 25.30 | 25.85",
    "Initial / cm³ | 0.00 | 0.00 | 0.50",
    "Titre / cm³ | 25.80 | 25.30 | 25.35",
    "Mean titre | 25.33",
    "Result | 0.101",
)
SINGLE = [
    Case(
        "a table without a name",
        "Wanda K",
        "The file's name is the student's; RIGHT in another shape, no ticks.",
        LAB_BOOK,
        file="Wanda K.csv",
        names=("Wanda K",),
    ),
    Case(
        "a table with a title",
        "Wanda K",
        "A title is nobody's name; the file's name is.",
        ("Titration of drain cleaner", "", *LAB_BOOK),
        file="Wanda K.csv",
        names=("Wanda K",),
    ),
    Case(
        "a sheet without a name",
        "Wanda K",
        "The workbook's one sheet bears the name.",
        LAB_BOOK,
        file="class 10b.xlsx",
        shown="0.00",
        sheet="Wanda K",
        names=("Wanda K",),
    ),
    Case(
        "a titre row under a header of two levels",
        "Wanda K",
        "The titre row belongs to the readings above it: RIGHT once more.",
        ("| Rough | Accurate | ", "| | 1 | 2", *LAB_BOOK[1:]),
        file="Wanda K.csv",
        names=("Wanda K",),
    ),
]

FORM = "Timestamp | What is your name? | Rough titration: initial reading | Rough titration: final reading | Titration 1: initial reading | Titration 1: final reading | Titration 2: initial reading | Titration 2: final reading | Your mean titre | Your concentration of NaOH"
FORMS = [
    Case(
        "a form with somebody else's odd wording",
        "Xan",
        "Somebody else's words in a cell are that one's; Xan's answers are RIGHT.",
        (
            FORM,
            "2026/03/02 10:41 | Xan | 0.00 | 25.80 | 0.00 | 25.30 | 0.50 | 25.85 | 25.33 | 0.101",
            "2026/03/02 10:44 | Ben | 0.00 | 25.70 | 0.10 | 25.40 | 0.20 | 25.45 | 25.28 | 0.101",
            "2026/03/02 10:45 | Cleo | zero I think | dunno, about half way | 2.00 | 27.35 | 3.00 | 28.30 | 25.33 | 0.101",
        ),
        lost={"titres": OUT},
        names=("Xan", "Ben", "Cleo"),
    ),
]

O_FOR_ZERO = "0.00 | 25.80 | 25.80 | 0.00 | 25.30 | 25.30 | y | 0.50 | 25.85 | 25.35 | y | 0.00 | 25.3o | 25.30 | n | 25.33 | 0.101"
NUMBERS = [
    three(
        "a letter o for a zero",
        f"Yara | {O_FOR_ZERO}",
        "25.3o holds the letter o: that reading is no number and costs the recording once; runs 1 and 2 are RIGHT.",
        lost={"recording": 0},
        finds=("not-a-number",),
        says="letter",
    ),
]

SLIPS = [
    two(
        "the ratio left out",
        f"Zoe | {RIGHT.replace('0.101', '0.0507')}",
        "25.325 x 0.0500 / 25.0 = 0.05065, so 0.0507: one named slip costs 1 of 4.",
        lost={"calculation": 3},
        finds=("ratio-ignored",),
    ),
    two(
        "the ratio left out at two a slip",
        f"Zoe | {RIGHT.replace('0.101', '0.0507')}",
        "The same; the scheme's slip is 2, so 2 of 4.",
        practical=SLIP_TWO,
        lost={"calculation": 2},
        finds=("ratio-ignored",),
    ),
    two(
        "cm³ and dm³ mixed up",
        f"Zoe | {RIGHT.replace('0.101', '101')}",
        "101 without a unit is 1000 times 0.101: one named slip.",
        lost={"calculation": 3},
        finds=("volume-units",),
    ),
    two(
        "the dilution left out",
        f"Zoe | {RIGHT}",
        "0.101 is the diluted solution's, 2.53 was asked for: one named slip.",
        practical=DILUTED,
        mates=tuple(each.replace("0.101", "2.53") for each in MATES),
        lost={"calculation": 3},
        finds=("dilution-ignored",),
    ),
    two(
        "two slips together",
        f"Zoe | {RIGHT.replace('0.101', '0.0507')}",
        "25.325 x 0.002 = 0.0507 leaves out the ratio and the dilution of 2.53: two slips cost two.",
        practical=DILUTED,
        mates=tuple(each.replace("0.101", "2.53") for each in MATES),
        lost={"calculation": 2},
        finds=("ratio-ignored or dilution-ignored",),
        may=("ratio-ignored", "dilution-ignored"),
    ),
    two(
        "a result that nothing explains",
        f"Zoe | {RIGHT.replace('0.101', '0.0777')}",
        "0.0777 is no usual slip from 25.325: nothing for the calculation; three figures are three figures.",
        lost={"calculation": 0},
        finds=("result-slip",),
    ),
    two(
        "a slip in the titre carried forward",
        "Zoe | 0.00 | 25.80 | 25.80 | 0.00 | 25.30 | 25.30 | y | 0.50 | 25.85 | 25.25 | y | 25.28 | 0.101",
        "25.85 - 0.50 = 25.35, not 25.25: titres; (25.30 + 25.25) / 2 = 25.275 and 0.1011 follow.",
        lost={"titres": 0},
        finds=("subtraction-slip",),
    ),
    two(
        "the mean mistyped, result from the right mean",
        f"Zoe | {RIGHT.replace('25.33', '23.53')}",
        "23.53 is mistyped: mean. 0.101 follows from 25.325 (23.53 would give 0.0941): nothing else.",
        lost={"mean": 0},
        finds=(),
        may=("mean-slip",),
    ),
    two(
        "the mean wrong, result from the wrong mean",
        f"Zoe | {RIGHT.replace('25.33', '23.53').replace('0.101', '0.0941')}",
        "23.53 x 0.004 = 0.09412 follows from the mean that is written: only the mean is lost.",
        lost={"mean": 0},
        may=("mean-slip",),
    ),
    three(
        "the rough in the mean",
        "Zoe | 0.00 | 25.80 | 25.80 | 0.00 | 25.30 | 25.30 | y | 0.50 | 25.85 | 25.35 | y | | | | | 25.48 | 0.102",
        "(25.80 + 25.30 + 25.35) / 3 = 25.483, so 25.48; 0.1019 follows: only the choice is lost.",
        lost={"selection": 0},
        finds=("rough-in-mean",),
    ),
    two(
        "the ratio upside down",
        f"Zoe | {RIGHT.replace('0.101', '0.0253')}",
        "25.325 x 0.0500 / 2 / 25.0 = 0.02533: one named slip.",
        lost={"calculation": 3},
        finds=("ratio-inverted",),
    ),
]

BLANKS = [
    two(
        "no mean written but ticks",
        f"Abe | {RIGHT.replace('25.33', '')}",
        "The blank costs the mean; the ticks show the choice, and 0.101 follows from 25.325.",
        lost={"mean": 0},
    ),
    two(
        "no mean written and no column for ticks",
        "Abe | 0.00 | 25.80 | 25.80 | 0.00 | 25.30 | 25.30 | 0.50 | 25.85 | 25.35 | | 0.101",
        "The blank costs the mean; without ticks there is nothing to see the choice by, so that is left out.",
        TWO_RUNS.replace(" | Run 1 used", "").replace(" | Run 2 used", ""),
        tuple(each.replace(" | y", "") for each in MATES),
        lost={"mean": 0, "selection": OUT},
    ),
    two(
        "no result written",
        f"Abe | {RIGHT.replace('0.101', '')}",
        "The blank costs the calculation, and leaves no figures to look at.",
        lost={"calculation": 0, "figures": OUT},
    ),
    two(
        "no titres written",
        "Abe | 0.00 | 25.80 | | 0.00 | 25.30 | | y | 0.50 | 25.85 | | y | 25.33 | 0.101",
        "The blank titres cost the table, and leave no subtraction to look at; 25.325 is the readings' mean.",
        lost={"table": 0, "titres": OUT},
    ),
    two(
        "one titre not written",
        "Abe | 0.00 | 25.80 | 25.80 | 0.00 | 25.30 | 25.30 | y | 0.50 | 25.85 | | y | 25.33 | 0.101",
        "One blank titre costs the table; the subtractions that are there are right.",
        lost={"table": 0},
    ),
    two(
        "one final reading not written",
        "Abe | 0.00 | | 25.80 | 0.00 | 25.30 | 25.30 | y | 0.50 | 25.85 | 25.35 | y | 25.33 | 0.101",
        "The blank reading costs the table, nothing more.",
        lost={"table": 0},
        finds=("missing-reading",),
    ),
    two(
        "no ticks by one student",
        f"Abe | {RIGHT.replace('| y', '| ')}",
        "The mean 25.33 is that of the two titres that agree, so the choice can be seen.",
    ),
]

UNREAD = [
    two(
        "a result with a letter in it",
        f"Abe | {RIGHT.replace('0.101', '0.1O1')}",
        "0.1O1 may well be 0.101: what looks at the result waits until the teacher has read it.",
        lost={"calculation": PENDING, "figures": PENDING},
    ),
    two(
        "a mean that stands elsewhere",
        f"Abe | {RIGHT.replace('25.33', 'see over')}",
        "A mean was written, on another page: it waits. The ticks show the choice, and 0.101 follows from 25.325.",
        lost={"mean": PENDING},
    ),
    two(
        "an error for a titre",
        "Abe | 0.00 | 25.80 | 25.80 | 0.00 | 25.30 | 25.30 | y | 0.50 | 25.85 | #REF! | y | 25.33 | 0.101",
        "What was written is gone: the subtractions wait. 25.33 and 0.101 follow from the readings.",
        lost={"titres": PENDING},
    ),
    two(
        "an error for a titre without readings",
        "Abe | 25.80 | 25.30 | #REF! | 25.33 | 0.101",
        "The second titre may agree and be in the mean: both wait. 0.101 follows from 25.33.",
        "Student | Rough titre | Run 1 titre | Run 2 titre | Mean titre | Result",
        ("Ben | 25.70 | 25.30 | 25.25 | 25.28 | 0.101",),
        lost={"recording": KEPT, "titres": OUT, "concordance": PENDING, "mean": PENDING},
        may=("too-few-runs",),
    ),
    two(
        "a mean that was not worked out",
        f"Abe | {RIGHT.replace('25.33', 'not done')}",
        "Not done is a blank: the mean, and nothing else.",
        lost={"mean": 0},
    ),
]

FEW = [
    two(
        "one accurate run only",
        "Bo | 0.00 | 25.80 | 25.80 | 0.00 | 25.30 | 25.30 | y | | | | | 25.30 | 0.101",
        "One run: nothing agrees, and nothing could be chosen wrongly; 25.30 x 0.004 = 0.1012 and 25.30 are right.",
        lost={"concordance": 0},
        finds=("too-few-runs",),
    ),
    three(
        "several runs and one ticked",
        "Bo | 0.00 | 25.80 | 25.80 | 0.00 | 25.30 | 25.30 | y | 0.50 | 25.85 | 25.35 | n | 0.00 | 25.35 | 25.35 | n | 25.30 | 0.101",
        "Three agree and one was used: the choice is lost, the mean of one is 25.30 and kept.",
        lost={"selection": 0},
        may=(),
    ),
    three(
        "accuracy of the ticked runs where none agree",
        "Bo | 0.00 | 25.80 | 25.80 | 0.00 | 24.60 | 24.60 | n | 0.00 | 24.85 | 24.85 | y | 0.00 | 25.30 | 25.30 | y | 25.08 | 0.100",
        "24.60, 24.85, 25.30: none within 0.10, the closest 0.25 apart: concordance 0; the two closest were not the ones used: selection 0; (24.85 + 25.30) / 2 = 25.075, 0.1003, and 0.225 from 25.30: 2 of 3.",
        lost={"concordance": 0, "selection": 0, "accuracy": 2},
        finds=("no-concordant-runs",),
        may=("*",),
    ),
    three(
        "the closest two where none agree",
        "Bo | 0.00 | 25.80 | 25.80 | 0.00 | 25.20 | 25.20 | y | 0.00 | 25.35 | 25.35 | y | 0.00 | 24.90 | 24.90 | n | 25.28 | 0.101",
        "25.20 and 25.35 are 0.15 apart: concordance 1 of 2; they are the best there are: chosen and averaged rightly (25.275, 0.1011).",
        lost={"concordance": 1},
        finds=("no-concordant-runs",),
        may=("*",),
    ),
]

LOW_CLASS = tuple(plain(*each) for each in (
    ("Ada", "24.40", "24.45", "24.43", "0.0977"), ("Bea", "24.35", "24.45", "24.40", "0.0976"), ("Col", "24.40", "24.40", "24.40", "0.0976"), ("Dee", "24.45", "24.45", "24.45", "0.0978"),
    ("Eli", "24.30", "24.40", "24.35", "0.0974"), ("Fay", "24.40", "24.50", "24.45", "0.0978"), ("Gus", "24.35", "24.35", "24.35", "0.0974"), ("Hal", "24.40", "24.35", "24.38", "0.0975"),
))  # fmt: skip
BENCHES = tuple(plain(name, first, second, mean, result, f"{bench} | ") for name, bench, first, second, mean, result in (
    ("Ada", "A", "25.30", "25.35", "25.33", "0.101"), ("Bea", "A", "25.25", "25.30", "25.28", "0.101"), ("Col", "A", "25.40", "25.30", "25.35", "0.101"), ("Dee", "A", "25.20", "25.30", "25.25", "0.101"),
    ("Eli", "B", "25.30", "25.30", "25.30", "0.101"), ("Fay", "B", "25.35", "25.40", "25.38", "0.102"), ("Gus", "B", "25.25", "25.25", "25.25", "0.101"), ("Hal", "B", "25.30", "25.20", "25.25", "0.101"),
    ("Ian", "C", "25.35", "25.35", "25.35", "0.101"), ("Jo", "C", "25.30", "25.25", "25.28", "0.101"), ("Kit", "C", "25.40", "25.40", "25.40", "0.102"), ("Lou", "C", "25.25", "25.35", "25.30", "0.101"),
    ("Moe", "D", "26.40", "26.45", "26.43", "0.106"), ("Nan", "D", "26.35", "26.45", "26.40", "0.106"), ("Oz", "D", "26.40", "26.30", "26.35", "0.105"), ("Pam", "D", "26.45", "26.45", "26.45", "0.106"),
))  # fmt: skip
WRONG_CLASS = tuple(plain(*each) for each in (
    ("Ada", "21.30", "21.35", "21.33", "5.12"), ("Bea", "21.25", "21.30", "21.28", "5.11"), ("Col", "21.40", "21.30", "21.35", "5.13"), ("Dee", "21.20", "21.30", "21.25", "5.10"),
    ("Eli", "21.30", "21.30", "21.30", "5.12"), ("Fay", "21.35", "21.40", "21.38", "5.13"), ("Gus", "21.25", "21.25", "21.25", "5.10"), ("Hal", "21.30", "21.20", "21.25", "5.10"),
))  # fmt: skip
DOUBTS = [
    Case(
        "a class that agrees with itself and not with the reference",
        "Col",
        "Eight students at 24.40 and a reference of 25.30: the reference is in doubt, and accuracy waits.",
        (TWO_RUNS, *LOW_CLASS),
        lost={"accuracy": PENDING},
    ),
    Case(
        "a bench that is off together",
        "Moe",
        "Bench D is 1.1 cm³ above three benches at 25.30: the bench is in doubt, and its accuracy waits.",
        (TWO_RUNS.replace("Student", "Student | Bench"), *BENCHES),
        lost={"accuracy": PENDING},
    ),
    Case(
        "a bench that is right beside one that is off",
        "Bea",
        "Bench A is at 25.30, 0.02 off: its accuracy stands.",
        (TWO_RUNS.replace("Student", "Student | Bench"), *BENCHES),
    ),
    Case(
        "the wrong practical for the class",
        "Eli",
        "Vinegar marked as drain cleaner: nobody's result fits and no titre is near 25.30. The practical is in doubt, not eight students.",
        (TWO_RUNS, *WRONG_CLASS),
        lost={"accuracy": PENDING, "calculation": ANY, "figures": ANY},
        may=("*",),
        first_of_class="practical",
    ),
]

DIGITS = [
    two(
        "zeros that a number cell cannot keep",
        "Cy | 0 | 25.5 | 25.5 | 0 | 25 | 25 | y | 0 | 25.1 | 25.1 | y | 25.05 | 0.1",
        "A cell shows 0.1 for 0.100 and 25 for 25.00; 25.05 x 0.004 = 0.1002, so 0.100; 0.25 from 25.30: 2 of 3.",
        file="class.xlsx",
        lost={"accuracy": 2},
    ),
    two(
        "a mean that a number cell shortens",
        "Cy | 0 | 25.8 | 25.8 | 0 | 25.25 | 25.25 | y | 0 | 25.35 | 25.35 | y | 25.3 | 0.101",
        "25.3 in a cell of numbers may be 25.30, which is (25.25 + 25.35) / 2.",
        file="class.xlsx",
    ),
    two(
        "a mean of whole cm³ in a number cell",
        "Cy | 0 | 25.8 | 25.8 | 0 | 25 | 25 | y | 0 | 25 | 25 | y | 25 | 0.1",
        "25 in a cell of numbers may be 25.00; 25.00 x 0.004 = 0.100; 0.30 from 25.30: 2 of 3.",
        file="class.xlsx",
        lost={"accuracy": 2},
    ),
    two(
        "a result in a column formatted for volumes",
        "Cy | 0.00 | 25.80 | 25.80 | 0.00 | 25.30 | 25.30 | y | 0.50 | 25.85 | 25.35 | y | 25.33 | 0.101",
        "0.101 was typed, whatever the format of the cell shows of it: three figures.",
        file="class.xlsx",
        shown="0.00",
        shown_everywhere=True,
    ),
    three(
        "a spare zero in the mean",
        "Cy | 0.00 | 25.90 | 25.90 | 0.00 | 25.35 | 25.35 | y | 0.00 | 25.40 | 25.40 | y | 0.00 | 25.40 | 25.40 | y | 25.380 | 0.102",
        "76.15 / 3 = 25.383; 25.380 is 25.38 with a spare zero; 0.10153, so 0.102.",
    ),
    two(
        "x rounded to 9.80",
        "Cy | 0.00 | 23.40 | 23.40 | 0.00 | 23.00 | 23.00 | y | 0.50 | 23.50 | 23.00 | y | 23.00 | 9.80",
        "23.00 x 0.0005 = 0.01150 mol; 3.25 / 0.01150 = 282.6; (282.6 - 106.0) / 18.0 = 9.81, or 9.80 with 105.99 and 18.015.",
        practical=CRYSTALS,
        mates=(),
    ),
    two(
        "x with whole molar masses",
        "Cy | 0.00 | 23.40 | 23.40 | 0.00 | 23.00 | 23.00 | y | 0.50 | 23.50 | 23.00 | y | 23.00 | 9.81",
        "(282.6 - 106) / 18 = 9.81 with the molar masses of schools.",
        practical=CRYSTALS,
        mates=(),
    ),
]

IMPOSSIBLE = [
    two(
        "more than 100 per cent from the readings",
        "Di | 0.00 | 18.00 | 18.00 | 0.00 | 17.50 | 17.50 | y | 0.50 | 18.05 | 17.55 | y | 17.53 | 108",
        "left 0.017525, reacted 0.032475, half 0.0162375 x 100.09 = 1.6252 g of 1.500: 108 % follows, and cannot be; 4.5 cm³ from 22.06.",
        practical=EGGSHELLS,
        mates=(plain("Ben", "22.05", "22.10", "22.08", "93.2"),),
        lost={"accuracy": 0},
        finds=("impossible-result",),
        may=("*",),
    ),
    two(
        "more than 100 per cent by a slip",
        "Di | 0.00 | 22.40 | 22.40 | 0.00 | 22.05 | 22.05 | y | 0.50 | 22.60 | 22.10 | y | 22.08 | 186",
        "left 0.022075, reacted 0.027925; not halved it gives 2.795 g of 1.500: 186 %: the ratio left out costs 1 of 4.",
        practical=EGGSHELLS,
        mates=(plain("Ben", "22.05", "22.10", "22.08", "93.2"),),
        lost={"calculation": 3},
        finds=("impossible-result", "ratio-ignored"),
    ),
]

UNITS = [
    two(
        "the mass concentration instead",
        f"Em | {RIGHT.replace('0.101', '4.05 g/dm3')}",
        "0.1013 x 40.0 = 4.05 g/dm³ is the same strength: right, with a note.",
    ),
    two("mmol with its unit", f"Em | {RIGHT.replace('0.101', '101 mmol/dm3')}", "101 mmol/dm³ is 0.101 mol/dm³."),
    two("mol per litre", f"Em | {RIGHT.replace('0.101', '0.101 mol/L')}", "A litre is a dm³."),
    two("M", f"Em | {RIGHT.replace('0.101', '0.101 M')}", "M is mol/dm³."),
    two(
        "an uncertainty with it",
        f"Em | {RIGHT.replace('0.101', '0.101 ± 0.001')}",
        "0.101 with its uncertainty is 0.101.",
    ),
    two(
        "a volume strength in mol per dm³",
        "Em | 0.00 | 36.30 | 36.30 | 0.00 | 35.70 | 35.70 | y | 0.50 | 36.25 | 35.75 | y | 35.73 | 1.79 mol/dm³",
        "0.0200 x 35.725 x 5 / 2 / 25.0 x 25 = 1.786 mol/dm³ is 20.0 vol (x 22.4 / 2): right, with a note.",
        practical=PEROXIDE,
        mates=(),
    ),
    two(
        "a volume strength in per cent",
        "Em | 0.00 | 36.30 | 36.30 | 0.00 | 35.70 | 35.70 | y | 0.50 | 36.25 | 35.75 | y | 35.73 | 6.08 %",
        "1.786 mol/dm³ x 34.01 / 10 = 6.08 g in 100 cm³, as the bottle says.",
        practical=PEROXIDE,
        mates=(),
    ),
    two(
        "hardness in German degrees",
        "Em | 0.00 | 14.70 | 14.70 | 0.00 | 14.20 | 14.20 | y | 0.50 | 14.70 | 14.20 | y | 14.20 | 16.0 °dH",
        "0.0100 x 14.20 / 50.0 = 2.840 mmol/dm³; ÷ 0.178 (as schools have it, from memory) = 16.0 °dH.",
        practical=HARDNESS,
        mates=(),
    ),
    two(
        "hardness in French degrees",
        "Em | 0.00 | 14.70 | 14.70 | 0.00 | 14.20 | 14.20 | y | 0.50 | 14.70 | 14.20 | y | 14.20 | 28.4 °f",
        "2.840 mmol/dm³ x 100.09 / 10 = 28.4 °f.",
        practical=HARDNESS,
        mates=(),
    ),
    two(
        "with the ion behind its unit",
        f"Em | {RIGHT.replace('0.101', '0.101 mol/dm3 OH-')}",
        "What it is of is no unit.",
    ),
    two(
        "a share and the per cent",
        "Ned | 0.00 | 22.40 | 22.40 | 0.00 | 22.05 | 22.05 | y | 0.50 | 22.60 | 22.10 | y | 22.08 | 0.932 (93.2 %)",
        "The answer in per cent stands behind the share that it was worked out from.",
        practical=EGGSHELLS,
        mates=(),
    ),
    two(
        "the blank taken off all titres but the rough",
        "Ned | 0.00 | 26.00 | 26.00 | 0.00 | 25.50 | 25.30 | y | 0.50 | 26.05 | 25.35 | y | 25.33 | 0.101",
        "25.50 and 25.55 less the blank of 0.20 are 25.30 and 25.35; nobody needs the blank for the rough.",
        practical=DRAIN.replace("[result]", "[blank]\ntitre = 0.20\n[result]"),
        mates=(),
    ),
    two("in powers of ten", f"Em | {RIGHT.replace('0.101', '1.01 × 10⁻¹')}", "1.01 x 10^-1 is 0.101 to three figures."),
    two("in E notation", f"Em | {RIGHT.replace('0.101', '1.01E-01')}", "1.01E-01 is 0.101 to three figures."),
    two(
        "with its symbol",
        f"Em | {RIGHT.replace('0.101', 'c(NaOH) = 0.101 mol/dm³')}",
        "A symbol and a unit about 0.101.",
    ),
    two("without a leading zero", f"Em | {RIGHT.replace('0.101', '.101')}", ".101 is 0.101 to three figures."),
]

BURETTES = [
    two(
        "a burette that counts down",
        "Flo | 50.00 | 24.20 | 25.80 | 50.00 | 24.70 | 25.30 | y | 49.50 | 24.15 | 25.35 | y | 25.33 | 0.101",
        "50.00 - 24.70 = 25.30 and 49.50 - 24.15 = 25.35: all runs count down, which is nobody's fault.",
        finds=("counts-down",),
    ),
    two(
        "a burette filled again within a run",
        "Flo | 0.00 | 25.80 | 25.80 | 30.00 - 50.00 + 0.00 - 5.30 | | 25.30 | y | 0.50 | 25.85 | 25.35 | y | 25.33 | 0.101",
        "20.00 + 5.30 = 25.30 in two parts.",
        finds=("refilled",),
    ),
    two(
        "a final reading counted on beyond the scale",
        "Flo | 0.00 | 25.80 | 25.80 | 0.00 | 25.30 | 25.30 | y | 40.00 | 65.35 | 25.35 | y | 25.33 | 0.101",
        "Filled again at 50.00 and counted on: 10.00 + 15.35 = 25.35, which agrees with 25.30.",
        finds=("off-scale",),
    ),
    two(
        "a burette filled again and read on from the top",
        "Flo | 0.00 | 25.80 | 25.80 | 0.00 | 25.30 | 25.30 | y | 40.00 | 15.35 | 25.35 | y | 25.33 | 0.101",
        "From 40.00 to 50.00 and from 0.00 to 15.35 are 25.35, as written.",
        finds=("refilled",),
    ),
    two(
        "a final reading as a sum",
        "Flo | 0.00 | 25.80 | 25.80 | 0.00 | 25.30 | 25.30 | y | 40.00 | 50.00 + 15.35 | 25.35 | y | 25.33 | 0.101",
        "From 40.00 to 50.00, filled again, and 15.35 more.",
        finds=("refilled",),
    ),
    two(
        "a final reading in two parts",
        "Flo | 0.00 | 25.80 | 25.80 | 0.00 | 25.30 | 25.30 | y | 40.00 | 50.00 then 0.10 to 15.45 | 25.35 | y | 25.33 | 0.101",
        "From 40.00 to 50.00, filled again to 0.10, and on to 15.45.",
        finds=("refilled",),
    ),
    two(
        "a titre as a sum",
        "Flo | 0.00 | 25.80 | 25.80 | 0.00 | 25.30 | 25.30 | y | 40.00 | 15.35 | 10.00 + 15.35 = 25.35 | y | 25.33 | 0.101",
        "What went before the burette was filled again, and what went after it.",
        finds=("refilled",),
    ),
    two(
        "one run with its readings swapped",
        "Flo | 0.00 | 25.80 | 25.80 | 25.30 | 0.00 | 25.30 | y | 0.50 | 25.85 | 25.35 | y | 25.33 | 0.101",
        "A burette only empties: 0.00 and 25.30 stand in the wrong columns, all volumes are right.",
        finds=("reversed-readings",),
    ),
    two(
        "each run starts where the last ended",
        "Flo | 0.00 | 23.90 | 23.90 | 23.90 | 49.20 | 25.30 | y | 0.00 | 25.35 | 25.35 | y | 25.33 | 0.101",
        "49.20 - 23.90 = 25.30; the rough of 23.90 counts nowhere.",
        may=("undershoot", "implausible-titre"),
    ),
    two(
        "full burette to the last mark",
        "Flo | 0.00 | 25.80 | 25.80 | 24.70 | 50.00 | 25.30 | y | 0.50 | 25.85 | 25.35 | y | 25.33 | 0.101",
        "50.00 is on the scale; 50.00 - 24.70 = 25.30.",
    ),
]

TEACHERS = [
    two(
        "a criterion of the teacher's own",
        f"Gil | {RIGHT}",
        "The bench is the teacher's to mark: it waits, all else is full.",
        practical=BENCH_MANNERS,
        lost={"tidy bench": PENDING},
    ),
    two("a grade", f"Gil | {RIGHT}", "15 of 15 is 100 per cent: A.", practical=GRADED, grade="A"),
    two(
        "a grade that waits",
        f"Gil | {RIGHT}",
        "A mark waits, so there is no grade yet.",
        practical=GRADED_BENCH,
        lost={"tidy bench": PENDING},
        grade=None,
    ),
]

ODDLY_RIGHT = [
    two(
        "mean to the nearest 0.05 above",
        f"Hana | {RIGHT.replace('25.33', '25.35')}",
        "25.325 to 0.05 is 25.30 or 25.35; 25.35 x 0.004 = 0.1014.",
    ),
    two(
        "mean to the nearest 0.05 below",
        f"Hana | {RIGHT.replace('25.33', '25.30')}",
        "25.325 to 0.05 is 25.30 or 25.35; 25.30 x 0.004 = 0.1012.",
    ),
    two(
        "mean half to even",
        f"Hana | {RIGHT.replace('25.33', '25.32')}",
        "25.325 to two decimals, ties to the even digit.",
    ),
    two("mean with all its decimals", f"Hana | {RIGHT.replace('25.33', '25.325')}", "25.325 is what it is."),
    two("mean with its unit", f"Hana | {RIGHT.replace('25.33', '25.33 cm³')}", "The unit is part of good work."),
    two("mean in dm³", f"Hana | {RIGHT.replace('25.33', '0.02533 dm³')}", "0.02533 dm³ is 25.33 cm³."),
    two(
        "moles rounded to three figures on the way",
        f"Hana | {RIGHT.replace('0.101', '0.102')}",
        "n(acid) = 0.025325 x 0.0500 = 1.266E-3, so 1.27E-3; x 2 / 0.025 = 0.1016, so 0.102: rounded to as many figures as asked.",
    ),
    two("ticks as yes and no", f"Ivo | {RIGHT.replace('| y', '| Yes')}", "Yes is a tick."),
    two(
        "ticks as a cross",
        f"Ivo | {RIGHT.replace('| y', '| ✗')}",
        "A class in which everybody marks the runs used with a cross: the mean is of these.",
        mates=tuple(each.replace("| y", "| ✗") for each in MATES),
    ),
    two("ticks as true", f"Ivo | {RIGHT.replace('| y', '| TRUE')}", "TRUE is a tick."),
    two("ticks in words", f"Ivo | {RIGHT.replace('| y', '| used')}", "used is a tick."),
    two(
        "units in every cell",
        "Ivo | 0.00 cm3 | 25.80 cm3 | 25.80 cm3 | 0.00 cm3 | 25.30 cm3 | 25.30 cm3 | y | 0.50 cm3 | 25.85 cm3 | 25.35 cm3 | y | 25.33 cm3 | 0.101 mol/dm3",
        "A unit behind each number.",
    ),
    two(
        "units written together",
        "Ivo | 0.00ml | 25.80ml | 25.80ml | 0.00ml | 25.30ml | 25.30ml | y | 0.50ml | 25.85ml | 25.35ml | y | 25.33ml | 0.101M",
        "A unit joined to each number.",
    ),
    two(
        "a remark behind a reading",
        f"Ivo | {RIGHT.replace('25.85', '25.85 (pale pink)')}",
        "The reading is 25.85, the rest a remark.",
    ),
    two(
        "a question mark behind a reading",
        f"Ivo | {RIGHT.replace('25.85', '25.85?')}",
        "The reading is 25.85; the mark is noted.",
    ),
    two(
        "a star behind a reading",
        f"Ivo | {RIGHT.replace('25.85', '25.85*')}",
        "The reading is 25.85; the star is noted.",
    ),
    two("readings without a leading zero", f"Ivo | {RIGHT.replace('| 0.50', '| .50')}", ".50 is 0.50."),
    three(
        "the first run not done",
        "Jun | 0.00 | 25.80 | 25.80 | | | | | 0.00 | 25.30 | 25.30 | y | 0.50 | 25.85 | 25.35 | y | 25.33 | 0.101",
        "Runs 2 and 3 agree; an empty run is none.",
    ),
    three(
        "two used of three that agree",
        "Jun | 0.00 | 25.80 | 25.80 | 0.00 | 25.30 | 25.30 | y | 0.50 | 25.85 | 25.35 | y | 0.00 | 25.35 | 25.35 | n | 25.33 | 0.101",
        "All three agree; any two of them are titres that agree.",
    ),
    three(
        "three used of three that agree",
        "Jun | 0.00 | 25.80 | 25.80 | 0.00 | 25.30 | 25.30 | y | 0.50 | 25.85 | 25.35 | y | 0.00 | 25.35 | 25.35 | y | 25.33 | 0.101",
        "(25.30 + 25.35 + 25.35) / 3 = 25.333, so 25.33; 0.1013.",
    ),
    three(
        "the looser of two pairs",
        "Jun | 0.00 | 25.80 | 25.80 | 0.00 | 25.20 | 25.20 | y | 0.50 | 25.80 | 25.30 | y | 0.00 | 25.35 | 25.35 | n | 25.25 | 0.101",
        "25.20 with 25.30 agree, and 25.30 with 25.35: either pair is right; 25.25 is 0.05 off.",
        may=("not-concordant",),
    ),
    three(
        "a bad run left out",
        "Jun | 0.00 | 25.80 | 25.80 | 0.00 | 26.10 | 26.10 | n | 0.00 | 25.30 | 25.30 | y | 0.50 | 25.85 | 25.35 | y | 25.33 | 0.101",
        "26.10 is recorded and left out, as it should be.",
        may=("not-concordant", "overshoot"),
    ),
    two(
        "a rough that agrees",
        "Jun | 0.00 | 25.30 | 25.30 | 0.00 | 25.30 | 25.30 | y | 0.50 | 25.85 | 25.35 | y | 25.33 | 0.101",
        "A rough may agree; it was not used.",
    ),
    two(
        "no rough done",
        "Jun | | | | 0.00 | 25.30 | 25.30 | y | 0.50 | 25.85 | 25.35 | y | 25.33 | 0.101",
        "Two accurate runs that agree are what is marked; an empty rough is no run begun.",
    ),
    two(
        "titres both alike",
        "Jun | 0.00 | 25.80 | 25.80 | 0.00 | 25.30 | 25.30 | y | 0.50 | 25.80 | 25.30 | y | 25.30 | 0.101",
        "Twice 25.30: apart by nothing, and 0.1012.",
    ),
    two(
        "final columns before initial ones",
        "Kai | 25.80 | 0.00 | 25.80 | 25.30 | 0.00 | 25.30 | y | 25.85 | 0.50 | 25.35 | y | 25.33 | 0.101",
        "The headings say which reading is which.",
        "Student | Rough final | Rough initial | Rough titre | Run 1 final | Run 1 initial | Run 1 titre | Run 1 used | Run 2 final | Run 2 initial | Run 2 titre | Run 2 used | Mean titre | Result",
        ("Ben | 25.70 | 0.00 | 25.70 | 25.40 | 0.10 | 25.30 | y | 25.45 | 0.20 | 25.25 | y | 25.28 | 0.101",),
    ),
    two("a candidate number for a name", f"7 | {RIGHT}", "A number may be a name."),
    two(
        "working in the result cell",
        f"Kai | {RIGHT.replace('0.101', '0.101 (25.33 x 0.004)')}",
        "The result is 0.101, the rest its working.",
    ),
    two(
        "partners with the same readings",
        f"Lily | {RIGHT} | Milo",
        "Milo is the partner and has the same readings: nothing to ask.",
        TWO_RUNS + " | Partner",
        (f"Milo | {RIGHT} | Lily", *MATES),
    ),
    two(
        "molar mass of whole numbers",
        "Ned | 0.00 | 22.40 | 22.40 | 0.00 | 22.05 | 22.05 | y | 0.50 | 22.60 | 22.10 | y | 22.08 | 93.1",
        "0.0139625 x 100 / 1.500 = 93.08 with M = 100, which schools take.",
        practical=EGGSHELLS,
        mates=(),
    ),
    two(
        "molar mass of one decimal",
        "Ned | 0.00 | 22.40 | 22.40 | 0.00 | 22.05 | 22.05 | y | 0.50 | 22.60 | 22.10 | y | 22.08 | 93.2",
        "0.0139625 x 100.1 / 1.500 = 93.18.",
        practical=EGGSHELLS,
        mates=(),
    ),
    two(
        "vinegar with M = 60",
        "Ned | 0.00 | 21.80 | 21.80 | 0.00 | 21.30 | 21.30 | y | 0.50 | 21.85 | 21.35 | y | 21.33 | 5.12",
        "21.325 x 0.004 = 0.0853; x 10 x 60 / 10 = 5.118.",
        practical=VINEGAR,
        mates=(),
    ),
    two(
        "vinegar with a per cent sign",
        "Ned | 0.00 | 21.80 | 21.80 | 0.00 | 21.30 | 21.30 | y | 0.50 | 21.85 | 21.35 | y | 21.33 | 5.12 %",
        "5.12 % is 5.12 g in 100 cm³.",
        practical=VINEGAR,
        mates=(),
    ),
    two(
        "four figures from the written mean",
        "Ned | 0.00 | 20.90 | 20.90 | 0.00 | 20.30 | 20.30 | y | 0.50 | 20.80 | 20.30 | y | 0.00 | 20.35 | 20.35 | y | 20.32 | 0.09843",
        "60.95 / 3 = 20.317, so 20.32; 2.000 / 20.32 = 0.09843.",
        THREE_RUNS,
        (),
        practical=STANDARD,
    ),
    two(
        "four figures from the whole mean",
        "Ned | 0.00 | 20.90 | 20.90 | 0.00 | 20.30 | 20.30 | y | 0.50 | 20.80 | 20.30 | y | 0.00 | 20.35 | 20.35 | y | 20.32 | 0.09844",
        "2.000 / 20.3167 = 0.09844 from the mean that was not rounded.",
        THREE_RUNS,
        (),
        practical=STANDARD,
    ),
    two(
        "four figures in mmol",
        "Ned | 0.00 | 20.90 | 20.90 | 0.00 | 20.30 | 20.30 | y | 0.50 | 20.80 | 20.30 | y | 0.00 | 20.35 | 20.35 | y | 20.32 | 98.44 mmol/dm³",
        "98.44 mmol/dm³ is 0.09844 mol/dm³.",
        THREE_RUNS,
        (),
        practical=STANDARD,
    ),
]

NOT_DONE = "0.00 | 25.80 | 25.80 | 0.00 | 25.30 | 25.30 | y | 0.50 | 25.85 | 25.35 | y | {} | 25.33 | 0.101"
THIRD = 25.3333333333333
SPREADSHEETS = [
    three("a mean by formula", "Pat | 0.00 | 25.80 | 25.80 | 0.00 | 25.30 | 25.30 | y | 0.50 | 25.85 | 25.35 | y | 0.00 | 25.35 | 25.35 | y | 25.33 | 0.101", "=AVERAGE gives 25.3333, and the cell shows 25.33: right.", file="class.xlsx", shown="0.00", typed={"Q2": (THIRD, "0.00"), "R2": (0.101333333, "0.000")}),
    three("a mean by formula without a format", "Pat | 0.00 | 25.80 | 25.80 | 0.00 | 25.30 | 25.30 | y | 0.50 | 25.85 | 25.35 | y | 0.00 | 25.35 | 25.35 | y | 25.33 | 0.101", "=AVERAGE gives 25.3333, which is the mean.", file="class.xlsx", shown="0.00", typed={"Q2": (THIRD, "General")}),
    two("a result shown in powers of ten", f"Pat | {RIGHT}", "A cell that shows 1.01E-01 shows three figures.", file="class.xlsx", shown="0.00", typed={"N2": (0.1013, "0.00E+00")}),
    three("a titre of nought where no run was done", f"Pat | {NOT_DONE.format(' | | 0.00 | ')}", "The sheet's own formula makes 0.00 of two empty cells: no run was begun.", file="class.xlsx", shown="0.00"),
    two("readings in a column of one decimal", "Pat | 0 | 25.8 | 25.8 | 0 | 25.3 | 25.3 | y | 0.5 | 25.8 | 25.3 | y | 25.3 | 0.101", "A format of one decimal cannot show the zero of 25.30: what was typed is not known.", file="class.xlsx", shown="0.0", mates=()),
    three("dashes where no run was done", f"Pat | {NOT_DONE.format('- | - | - | -')}", "A dash is nothing: no run was begun."),
    three("not done in words", f"Pat | {NOT_DONE.format('not done | | | ')}", "Not done is nothing: no run was begun."),
    three("a run that was spilt", f"Pat | {NOT_DONE.format('0.00 | spilt |  | n')}", "A run given up, and said so: two others agree, and nothing is missing that could be there."),
    three("a run given up in the student's own words", f"Pat | {NOT_DONE.format('0.00 | tap leaked |  | n')}", "A run given up, and why: it has neither titre nor tick, and two others agree."),
    three("a run given up with a question mark", f"Pat | {NOT_DONE.format('0.00 | ? |  | no')}", "The endpoint was missed; the run says no, and two others agree."),
    two("the results of the runs before their mean", f"Pat | {RIGHT.replace('0.101', '0.1012; 0.1014; mean 0.101')}", "The mean is the answer."),
    two("a result rounded in brackets", f"Pat | {RIGHT.replace('0.101', '0.1013 (0.101 to 3 s.f.)')}", "0.1013 is worked out and 0.101 is the answer."),
    three("a bad run called overshot", f"Pat | {NOT_DONE.format('0.00 | 26.00 | 26.00 | overshot')}", "Overshot in the column for ticks is a no: rightly left out.", may=("not-concordant", "overshoot")),
    two("ticks as the word concordant", f"Pat | {RIGHT.replace('| y', '| concordant')}", "Concordant in the column for ticks is a yes."),
    two("a mean with its working", f"Pat | {RIGHT.replace('25.33', '(25.30 + 25.35) / 2 = 25.33')}", "Behind the equals sign stands the mean."),
    two("a result with its working", f"Pat | {RIGHT.replace('0.101', '0.0500 x 25.33 x 2 / 25.0 = 0.101')}", "Behind the equals sign stands the result."),
    two("a difference from the class", f"Pat | {RIGHT} | 25.31 | 0.02", "How far one is from the class is no further run.", TWO_RUNS + " | Class mean | Difference", tuple(f"{each} | 25.31 | 0.01" for each in MATES)),
    two("a column for the per cent error", f"Pat | {RIGHT} | 0.2", "A per cent error is no run and no result.", TWO_RUNS + " | % error", tuple(f"{each} | 0.1" for each in MATES)),
    two("columns for moles", f"Pat | {RIGHT.replace('0.101', '0.00127 | 0.00253 | 0.101')}", "Moles on the way are no results.", TWO_RUNS.replace("Result", "Moles of H2SO4 | Moles of NaOH | Concentration of NaOH"), tuple(each.replace("0.101", "0.00127 | 0.00253 | 0.101") for each in MATES)),
    two("columns for uncertainties", "Pat | 0.00 | 0.05 | 25.80 | 0.05 | 0.00 | 0.05 | 25.30 | 0.05 | 0.50 | 0.05 | 25.85 | 0.05 | 25.33 | 0.1 | 0.101", "What stands under ± is no reading.", "Student | Rough initial | ± | Rough final | ± | Run 1 initial | ± | Run 1 final | ± | Run 2 initial | ± | Run 2 final | ± | Mean titre | ± | Result", (), lost={"titres": OUT}),
    two("first runs that are roughs without the word", "Pat | 0.00 | 26.90 | 0.00 | 25.30 | 0.50 | 25.85 | 25.33 | 0.101", "26.90 alone is far off, in everybody's first run: the rough, and nobody's mistake.", "Student | Trial 1 initial | Trial 1 final | Trial 2 initial | Trial 2 final | Trial 3 initial | Trial 3 final | Mean | Result", ("Ben | 0.00 | 26.70 | 0.10 | 25.40 | 0.20 | 25.45 | 25.28 | 0.101", "Cleo | 1.00 | 27.90 | 2.00 | 27.35 | 3.00 | 28.30 | 25.33 | 0.101"), lost={"titres": OUT}),
    two("the vinegar in mol per dm³", "Ned | 0.00 | 21.80 | 21.80 | 0.00 | 21.30 | 21.30 | y | 0.50 | 21.85 | 21.35 | y | 21.33 | 0.853 mol/dm3", "21.325 x 0.1000 / 25.0 x 10 = 0.853 mol/dm³ is 5.12 g in 100 cm³: right, with a note.", practical=VINEGAR, mates=()),
    two("the vinegar in g per dm³", "Ned | 0.00 | 21.80 | 21.80 | 0.00 | 21.30 | 21.30 | y | 0.50 | 21.85 | 21.35 | y | 21.33 | 51.2 g/dm3", "51.2 g/dm³ is 5.12 g in 100 cm³.", practical=VINEGAR, mates=()),
    two("readings left blank", "Pat | | | 25.80 | | | 25.30 | y | | | 25.35 | y | 25.33 | 0.101", "Blank readings cost the table; there is nothing to see how they were recorded.", lost={"table": 0, "recording": OUT, "titres": ANY, "concordance": ANY, "accuracy": ANY}, may=("*",)),
    three("accuracy of the ticked runs where one cannot be read", f"Pat | {NOT_DONE.format('0.00 | 26.00 | 26.00 | n').replace('25.85', '')}", "25.30 and the written 25.35 were used; the reading that is missing costs the table, and leaves one titre to agree: concordance. What was ticked and can be read is 25.30: full accuracy, not that of a run left out.", lost={"table": 0, "concordance": 0}, finds=("missing-reading",), may=("*",)),
    two("a formula's mean to three decimals", "Pat | 0.00 | 25.80 | 25.80 | 0.00 | 25.30 | 25.30 | y | 0.50 | 25.85 | 25.35 | y | 25.33 | 0.101", "=AVERAGE gives 25.325, which is the mean, though the cell shows 25.33.", file="class.xlsx", shown="0.00", typed={"M2": (25.325, "0.00"), "N2": (0.1013, "0.000")}),
    two("a line that counts the class below", f"Pat | {RIGHT}", "n is how many there are, and nobody.", mates=(*MATES, "n | 5 | | | | | | | | | | | |"), names=("Pat", *NAMES_IN_CLASS)),
    two("two students of one name", f"Ada K | {RIGHT}", "Two people may have one name.", mates=(f"Ada K | {COMMAS.replace(',', '.').replace('25.80', '25.60').replace('0.00', '0.10').replace('25.30 | 25.30', '25.40 | 25.30').replace('25.60 | 25.60', '25.60 | 25.50')}", *MATES)),
    two("no space and a capital unit", f"Pat | {RIGHT.replace('25.33', '25.33CM3').replace('0.101', '0.101MOL/DM3')}", "Capital units are units."),
    two("full stops behind numbers", f"Pat | {RIGHT.replace('25.85', '25.85.').replace('0.101', '0.101.')}", "A full stop ends a sentence, not a number."),
    three("a third run that says n/a throughout", "Pat | 0.00 | 25.80 | 25.80 | 0.00 | 25.30 | 25.30 | y | 0.50 | 25.85 | 25.35 | y | n/a | n/a | n/a | n/a | 25.33 | 0.101", "Two runs agree; the third was not done, and says so in every cell."),
    three("a third run that was not needed", "Pat | 0.00 | 25.80 | 25.80 | 0.00 | 25.30 | 25.30 | y | 0.50 | 25.85 | 25.35 | y | not needed | | | | 25.33 | 0.101", "Two runs agree: a third was not needed."),
    two("a rough that is run 1 in brackets", f"Pat | {RIGHT}", "1 titre is the titre of 1 (rough).", ROUGH_AND.replace("Rough initial | Rough final | Rough titre", "1 (rough) initial | 1 (rough) final | 1 titre") + RUN.format(2) + RUN.format(3) + " | Mean titre | Result"),
    two("a rough called run 0", f"Pat | {RIGHT.replace('25.80 | 25.80', '26.40 | 26.40')}", "26.40 alone is far off, as everybody's run 0: the rough.", TWO_RUNS.replace("Rough", "Run 0"), tuple(each.replace("25.70 | 25.70", "26.70 | 26.70").replace("26.90 | 25.90", "27.90 | 26.90").replace("25.80 | 25.50", "26.80 | 26.50").replace("29.70 | 25.60", "30.70 | 26.60") for each in MATES)),
    two("a result that says to how many figures", f"Pat | {RIGHT.replace('0.101', '0.101 to 3 s.f.')}", "How many figures it has is no part of the number."),
    two("an exponent in braces", f"Pat | {RIGHT.replace('0.101', '0.101 mol·L^{-1}')}", "L^{-1} is L⁻¹."),
    Case("a form that asks which titres were used", "Pat", "Which titres did you use? is no mean; the rough titre has no readings, so no subtraction can be checked.", ("Full name | What was your rough titre? (cm3) | Titration 1 - start reading (cm3) | Titration 1 - end reading (cm3) | Titration 2 - start reading (cm3) | Titration 2 - end reading (cm3) | Which titres did you use for your average? (e.g. 2 and 3) | Average titre (cm3) | What is the concentration of the NaOH? (mol dm-3)", "Pat | 25.80 | 0.00 | 25.30 | 0.50 | 25.85 | 1 and 2 | 25.33 | 0.101", "Ben | 25.70 | 0.10 | 25.40 | 0.20 | 25.45 | 1 and 2 | 25.28 | 0.101"), lost={"titres": OUT}),
    Case("a line for each reading beside means", "Pat", "RIGHT in three lines, with the mean and the result in the first.", ("Student | | Rough | Run 1 | Run 2 | Mean titre | Result", "Pat | Final | 25.80 | 25.30 | 25.85 | 25.33 | 0.101", " | Initial | 0.00 | 0.00 | 0.50 | |", " | Titre | 25.80 | 25.30 | 25.35 | |", "Ben | Final | 25.70 | 25.40 | 25.45 | 25.28 | 0.101", " | Initial | 0.00 | 0.10 | 0.20 | |", " | Titre | 25.70 | 25.30 | 25.25 | |"), names=("Pat", "Ben")),
    *(two(f"a column headed {heading}", f"Pat | {RIGHT.replace('25.33', f'25.33 | {value}')}", "What the teacher expects is nobody's titre and no result.", TWO_RUNS.replace("Mean titre", f"Mean titre | {heading}"), tuple(each.replace(" | 0.101", f" | {value} | 0.101") for each in MATES)) for heading, value in (("Expected titre", "25.40"), ("Theoretical titre / cm3", "25.40"), ("Expected result", "0.105"), ("True value", "0.105"))),
    two("i and f behind the run", "Pat | 0.00 | 25.80 | 0.00 | 25.30 | 0.50 | 25.85 | 25.33 | 0.101", "i is initial and f is final.", "Student | Rough i | Rough f | 1 i | 1 f | 2 i | 2 f | Mean titre | Result", ("Ben | 0.00 | 25.70 | 0.10 | 25.40 | 0.20 | 25.45 | 25.28 | 0.101",), lost={"titres": OUT}),
    two("a mean headed with its runs", f"Pat | {RIGHT}", "The mean of runs 1 and 2 is nobody's run 1.", TWO_RUNS.replace("Mean titre", "Mean of run 1 and run 2")),
    two("a per cent uncertainty behind the result", f"Pat | {RIGHT.replace('0.101', '0.101 ± 1%')}", "1 % is the uncertainty's; the result is 0.101."),
    two("an arrow before the result", f"Pat | {RIGHT.replace('0.101', '0.10132 -> 0.101 mol/dm3')}", "What stands behind the arrow is the answer."),
    *(two(f"the vinegar as {written}", f"Ned | 0.00 | 21.80 | 21.80 | 0.00 | 21.30 | 21.30 | y | 0.50 | 21.85 | 21.35 | y | 21.33 | {written}", "21.325 x 0.2402 = 5.12 g in 100 cm³, or 51.2 g in 1 dm³.", practical=VINEGAR, mates=()) for written in ("5.12 g in 100 cm3", "51.2 g/L acetic acid")),
    two("the crystals as a formula", "Cy | 0.00 | 23.40 | 23.40 | 0.00 | 23.00 | 23.00 | y | 0.50 | 23.50 | 23.00 | y | 23.00 | Na2CO3.10H2O", "x is 10, where 9.82 was to be rounded to a whole number.", practical=CRYSTALS, mates=()),
    two("a group and a comment first", f"Blue | late | Pat | {RIGHT}", "Columns before the name are columns.", "Group | Comment | " + TWO_RUNS, tuple(f"Red | | {each}" for each in MATES)),
]  # fmt: skip

CASES: list[Case] = [
    *NAMES, *DECIMALS, *SUPERSCRIPTS, *PAIRS, *LISTS, *MARGINS, *HEADED, *LACKING, *SINGLE, *FORMS, *NUMBERS, *SLIPS, *BLANKS, *UNREAD, *FEW,
    *DOUBTS, *DIGITS, *IMPOSSIBLE, *UNITS, *BURETTES, *TEACHERS, *SPREADSHEETS, *ODDLY_RIGHT,
]  # fmt: skip

ALIKE = (
    two(
        "x as 10",
        "Cy | 0.00 | 23.40 | 23.40 | 0.00 | 23.00 | 23.00 | y | 0.50 | 23.50 | 23.00 | y | 23.00 | 10",
        "",
        practical=CRYSTALS,
        mates=(),
    ),
    two(
        "x as 10.0",
        "Cy | 0.00 | 23.40 | 23.40 | 0.00 | 23.00 | 23.00 | y | 0.50 | 23.50 | 23.00 | y | 23.00 | 10.0",
        "",
        practical=CRYSTALS,
        mates=(),
    ),
)
"""9.80 to the nearest whole number of waters, written in two ways: neither says more than the other."""
