"""What the students' sheets say: turns a student's part of the record tree into what `templates/sheet.typ` draws.

Nothing is worked out here but layout: places on a line, digits shown, which words stand where. What comes out is plain
data (text, numbers, lists) that is handed to the template as JSON, so that no text of a class sheet is ever read as
markup. Another student's figures come in only as the nameless ticks of the class strip, in rising order.
"""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from decimal import Decimal, InvalidOperation
from typing import Any

from labmark.exact import decimals_in, in_digits, raised
from labmark.outputs.decision_rows import behind_readings
from labmark.outputs.each import as_told, endpoints_of, results_of, titres_of
from labmark.outputs.fit import DENSITIES, LARGE, SLIPS
from labmark.outputs.forms import forms_of
from labmark.outputs.numbers import MINUS, NOTHING, fixed, mark, places, significant, volume
from labmark.outputs.own import own_words, shown, unread, waiting
from labmark.outputs.press import Manuscript
from labmark.outputs.printable import REPLACEMENT, all_printable, families, printable, printable_name, printed_instead
from labmark.outputs.sheet_lines import class_strips, is_few, own_place, titre_line, use_of
from labmark.records import bare_label
from labmark.units import shown_unit
from labmark.words import begun, shortened

Data = dict[str, Any]
Tree = Mapping[str, Any]
Seen = Mapping[str, tuple[Tree, Tree]]
"""Name of a result -> the student and the class as it sees them."""

ON_A_SLIP = frozenset({"summary", "comment", "answers", "marks", "advice"})
"""Parts of a sheet that a slip has room for."""
SMALL = 1e-7
"""Results from here on are written out, smaller ones with a power of ten."""
LOWERED = str.maketrans(raised("-0123456789") + MINUS, "-0123456789-")
LONGEST = 28
"""Characters of a group or of the label of a run."""
QUOTED = 12
"""Of an answer that cannot be read, so many characters are shown beside the working; its mark quotes it in full."""
SAFETY = "Follow the local risk assessment, the safety data sheets and the qualified person in charge."
AT_THE_BENCH = (
    "At the bench wear eye protection, and follow the local risk assessment, the safety data sheets and the qualified "
    "person in charge."
)
MISSING = frozenset({"missing-reading", "not-a-number", "off-scale", "too-few-runs", "no-concordant-runs"})
"""Findings that say why there is no mean. No other finding is ever shown: `same-readings` is the teacher's alone."""


def manuscript_of(tree: Tree) -> Manuscript:
    """Return what the sheets of a class say, in its order; a student whose `sheet` is None gets none."""
    places = [place for place, student in enumerate(tree["students"]) if student.get("sheet")]
    group, results, forms = class_data(tree), results_of(tree), forms_of(tree)
    printed = all_printable(forms.all(group))
    sheets = []
    for place in places:
        sheet = forms.all(student_data(tree, place, group, results))
        name = printable_name(sheet["name"], sheet["number"])
        sheets.append({**all_printable(sheet), "name": name, "title": f"{name}: {printed['title']}"})
    steps = LARGE if printed["large"] else SLIPS if printed["slips"] else DENSITIES
    data = {
        "title": f"{forms('Feedback')}: {printed['title']}",
        "fonts": families(),
        "class": printed,
        "language": forms.language,
        "words": forms.labels("sheet.typ"),
        "densities": [asdict(density) | {"under": density.under} for density in steps],
        "several": any(sheet["several"] for sheet in sheets),
    }
    paths = [tree["students"][place]["sheet"] for place in places]
    return Manuscript(paths, sheets, printed, steps, json.dumps(data, ensure_ascii=False))


def sheet_warnings(tree: Tree) -> list[str]:
    """Return what the teacher should know of the sheets, a sentence each: names and titles that cannot be printed."""
    warnings = []
    if REPLACEMENT in printable(tree["practical"]["title"]):
        warnings.append("The title of the practical holds characters that cannot be printed; � stands for them.")
    for student in tree["students"]:
        if name := printed_instead(student["student"], student["number"]):
            where = f" ({', '.join(student['cells'][:1])})" if student.get("cells") else ""
            warnings.append(
                f"The name of student {student['number']}{where} cannot be printed; the sheet says “{name}”."
            )
    return warnings


def class_data(tree: Tree) -> Data:
    """Return what all sheets of a class share."""
    practical, look = tree["practical"], tree["practical"]["sheet"]
    results = results_of(tree) if look["class_strip"] else {}
    lines = [caution.strip() for caution in practical.get("cautions") or ()]
    return {
        "title": practical["title"],
        # The deferral to those in charge stands among them once.
        "cautions": lines if any("risk assessment" in line.casefold() for line in lines) else [*lines, SAFETY],
        "school": look["school"],
        "parts": [part for part in look["parts"] if part in ON_A_SLIP or not look["slips"]],
        "paper": look["paper"],
        "large": look["size"] == "large",
        "slips": look["slips"],
        "few": is_few(tree),
        "strips": {key: strip for name, one in results.items() for key, strip in class_strips(one, name).items()},
    }


def student_data(tree: Tree, index: int, group: Mapping[str, Any], results: Mapping[str, Tree] | None = None) -> Data:
    """Return one student's sheet: everything that differs from sheet to sheet.

    `group` is the class data, `results` the tree as each result sees it, where that is at hand.
    """
    student, practical = tree["students"][index], tree["practical"]
    student, several = as_told(student), "" not in titres_of(student)
    seen = {name: (as_told(one["students"][index]), one) for name, one in (results or results_of(tree)).items()}
    return {
        **_heading(student, practical),
        **_words(student, group["parts"]),
        "tables": _tables(student, practical),
        # Of several titres the table of answers says what is expected: there is no room for a line of each.
        "line": None if several else titre_line(student, practical, large=group["large"]),
        "several": several,
        "expected": "Expected" if several else "Reference",
        **_answers(student, seen),
        "marks": [_mark(given) for given in student["marks"]],
        "total": mark(student["total"]) if student["out_of"] else None,
        "out_of": mark(student["out_of"]),
        "grade": student["grade"],
        "waiting": waiting(student),
        "strips": [own for name, (one, _) in seen.items() if (own := own_place(one, group["strips"], name))],
    }


def _answers(student: Tree, seen: Seen) -> Data:
    """Return what the readings give, and what the student wrote beside it; rows with nothing to say are left out."""
    titres = titres_of(student)
    rows = [*map(_mean_claim, titres, titres.values()), *map(_result_claim, seen, seen.values())]
    workings = [
        {"title": f"The working{f' for {name}' if name else ''}, in your numbers", "steps": one["steps"]}
        for name, (one, _) in seen.items()
        if one["steps"]
    ]
    return {"workings": workings, "claims": [row for row in rows if row], "doubt": _doubt(seen)}


def _heading(student: Tree, practical: Tree) -> Data:
    named = [f"{kind} {entry}" for kind, entry in student["groups"].items()]
    return {
        "name": student["student"],
        "title": f"{student['student']}: {practical['title']}",
        "number": student["number"],
        "groups": [*(shortened(group, LONGEST) for group in named), *own_words(student, practical)],
    }


# --- words -----------------------------------------------------------------------------------------------------------


def _state(student: Tree) -> str:
    """Return which page a student gets: "absent", "unusable" (readings, but no mean titre) or "marked"."""
    if student["absent"] or not student["runs"]:
        return "absent"
    means = student.get("mean_titres", {"": student["mean_titre"]}).values()
    return "marked" if student["result"] is not None or any(mean is not None for mean in means) else "unusable"


WITHOUT_READINGS = (
    "Ask your teacher when you can do the practical, or hand in the readings you have.",
    "If you did hand them in, say so: they may be under another name or on another sheet.",
)
"""What to do next where the feedback says nothing."""


def _words(student: Tree, parts: Iterable[str]) -> Data:
    """Return what is said to a student in sentences, and on which page; `parts` are those of the sheet."""
    state, feedback = _state(student), student["feedback"]
    causes, advice = feedback["causes"], feedback["next"] or WITHOUT_READINGS
    lacking = [one["message"] for one in student["findings"] if one["finding"] in MISSING]
    excused = "Your teacher has excused you: nothing of this is counted."
    besides = excused if student.get("excused") else student.get("progress")
    return {
        "state": state,
        "summary": " ".join(filter(None, (feedback.get("well"), feedback["summary"], besides))),
        "comment": student.get("comment", ""),
        # What a student without a mean titre lacks: the causes that are given, or else the findings' own words.
        "missing": (causes or lacking) if state == "unusable" else [],
        "causes": causes if state == "marked" else [],
        # Nobody is sent to the bench without a caution, where the sheet has no part for them.
        "next": [*advice, *([] if "cautions" in parts else [AT_THE_BENCH])],
    }


# --- readings and marks ----------------------------------------------------------------------------------------------


def _tables(student: Tree, practical: Tree) -> list[Data]:
    """Return the tables of runs: one for each titration, else one, with a reading and a titre for each endpoint."""
    runs: dict[str, list[Tree]] = {}
    for run in student["runs"]:
        runs.setdefault(run.get("titration", ""), []).append(run)
    return [_table(student, practical, titration, of) for titration, of in runs.items()]


def _table(student: Tree, practical: Tree, titration: str, runs: Sequence[Tree]) -> Data:
    ends = [endpoints_of(run) for run in runs]
    right = _is_right(student, "titres")  # less the blank, or counted from another reading
    written = {name: any(_differs(each[name], right) for each in ends) for name in ends[0]}
    heads = [
        head
        for name, own in written.items()
        for head in (begun(name) or "Final", "Titre", *(["You wrote"] if own else []))
    ]
    rows = zip(runs, ends, strict=True)
    return {
        "title": f"Your readings / cm³, {titration}" if titration else "Your readings / cm³",
        "heads": ["Run", "Initial", *heads, "In the mean", "Why"],
        "written": [*written.values()],
        "runs": [_run(run, each, right, own_words(student, practical, run["label"])) for run, each in rows],
    }


def _run(run: Tree, ends: Mapping[str, Tree], right: bool, own: Sequence[str]) -> Data:
    uses = [use_of(one) for one in ends.values()]
    # Before some endpoints the burette was filled.
    own = [*own, *(f"read from {volume(start)} for {name}" for name, start in run.get("initials", {}).items())]
    return {
        "label": shortened(bare_label(run["label"], run.get("titration", "")), LONGEST),
        "initial": volume(run["initial"]),
        "ends": [
            {
                "reading": volume(one["final"]),
                "titre": volume(one["titre"]),
                "written": f"≠ {volume(one['claimed_titre'])}" if _differs(one, right) else "",
                "used": one["used"],
            }
            for one in ends.values()
        ],
        "uses": uses if len({*uses}) > 1 else uses[:1],
        "why": "; ".join(filter(None, [*own, run.get("why"), behind_readings(run)])),
        # Where there is little room, a "yes" needs no reason, and neither does a rough.
        "short": "; ".join(filter(None, [*own, run.get("why") if "out" in uses else None, behind_readings(run)])),
    }


def _is_right(student: Tree, *criteria: str) -> bool:
    """Return whether a student lost nothing on some criteria; without them in the scheme, whether nothing was found."""
    marks = [each for each in student["marks"] if each["criterion"] in criteria]
    if not marks:
        return all(_criterion(each) not in criteria for each in student["findings"])
    given = [each for each in marks if each["mark"] is not None]
    return bool(given) and all(each["mark"] == each["out_of"] for each in given)


def _criterion(finding: Tree) -> str:
    """Return which criterion a finding is about, where it is about a sum."""
    return "titres" if finding["finding"] == "subtraction-slip" else str(finding["evidence"].get("criterion"))


def _differs(run: Tree, right: bool) -> bool:
    """Return whether the written titre of a run is another than its readings give; `right` says that none is wrong."""
    written, titre = run.get("claimed_titre"), run["titre"]
    return written is not None and (titre is None or (not right and Decimal(str(written)) != Decimal(str(titre))))


def _mark(given: Tree) -> Data:
    return {
        "criterion": begun(given["title"]),
        "mark": shown(given),
        "reason": given.get("told") or given["reason"],
        "full": mark(given["out_of"]) if given["mark"] == given["out_of"] else "",
        "teacher": given["by"] == "teacher" and given["mark"] is not None,
    }


def _mean_claim(name: str, student: Tree) -> Data | None:
    """Return a mean as it was written beside what the readings give; of several, what is expected of it as well."""
    own, given, expected = student["claimed"]["mean_titre"], student["mean_titre"], student["expected_titre"]
    odd = unread(student, "mean_titre", name, QUOTED)
    if own is None and given is None and not odd:
        return None
    right = _is_right(student, "mean", "selection")  # less the blank, or not to be checked
    # With two decimals, or as many more as the student gave.
    shown_mean = fixed(given, min(4, max(2, 2 if own is None else decimals_in(own))))
    told = _claim(odd if own is None else in_digits(own), shown_mean, right=right) | {"unit": "cm³", "spread": ""}
    told["what"] = f"Mean titre, {name}" if name else "Mean titre"
    return told | {"expected": volume(expected) if name and expected is not None else ""}


def _result_claim(name: str, both: tuple[Tree, Tree]) -> Data | None:
    """Return a result as it was written beside what the mean gives; of several, its reference and uncertainty too."""
    (student, tree), figures = both, both[1]["practical"]["result"]["significant_figures"]
    claimed, result = student["claimed"], student["result"]
    own, odd = claimed["result"], unread(student, "result", name, QUOTED)
    if own is None and result is None and not odd:
        return None
    given = _figures(result["value"], figures) if result else NOTHING
    # With its unit where that is of another quantity than asked for.
    written = odd if own is None else f"{_written(own)} {shown_unit(claimed.get('unit', ''))}".rstrip()
    right = _is_right(student, "calculation") and _is_right(student, "mean", "selection")  # of runs that agree as well
    return _claim(written, given, right=right) | {
        "what": f"Result, {name}" if name else "Result",
        "unit": shown_unit(result["unit"] if result else tree["practical"]["unit"]),
        "spread": _spread(student, given) if name and _is_known(student, tree) else "",
        "expected": (student["printed"]["reference"] or "") if name else "",
    }


def _claim(own: str, given: str, *, right: bool) -> Data:
    return {"own": own, "sign": "" if right else _sign(own, given), "given": given}


def _figures(value: float, figures: int) -> str:
    """Return a result as it is asked for, without a power of ten for as long as that is what students write."""
    return fixed(value, places(value, figures)) if abs(value) >= SMALL else significant(value, figures)


def _written(own: Decimal) -> str:
    """Return a result that a student wrote, with its digits."""
    return in_digits(own) if not own or abs(own) >= SMALL else significant(own, len(own.as_tuple().digits))


def _sign(own: str, given: str) -> str:
    """Return ≠ where what was written differs from what follows by more than one in the last place that both have."""
    try:
        both = [Decimal(each.replace(" × 10", "E").translate(LOWERED)) for each in (own, given)]
    except InvalidOperation:  # one is not there, or has a unit of its own
        return ""
    last = -min(map(decimals_in, both))
    return "≠" if abs(both[0] - both[1]) > Decimal(1).scaleb(last) else ""


def _is_known(student: Tree, tree: Tree) -> bool:
    """Return whether the uncertainty of a result may be told: how well the class repeats is part of it."""
    return bool(student["result"] and student["result"]["expanded_uncertainty"] and not is_few(tree))


def _doubt(seen: Seen) -> str:
    """Return how certain the results are, in words."""
    known = {name: student for name, (student, tree) in seen.items() if _is_known(student, tree)}
    if not known:
        return ""
    close = "With this glassware, careful work comes {} to the true value about 19 times in 20."
    if "" not in known:
        return close.format("that close (±)")
    shown_result, unit = known[""]["printed"]["result"], shown_unit(known[""]["result"]["unit"])
    spread = f"{_spread(known[''], shown_result)} {unit}".rstrip()
    return f"Your result is {shown_result} ± {spread}. {close.format('that close')}"


def _spread(student: Tree, beside: str) -> str:
    """Return an uncertainty to the decimals of the result beside it, or to its first figure where that is smaller."""
    spread, decimals = student["result"]["expanded_uncertainty"], len(beside.partition(".")[2])
    return fixed(spread, decimals) if spread >= 0.5 * 10**-decimals else significant(spread, 1)
