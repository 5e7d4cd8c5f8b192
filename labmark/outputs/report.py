"""The teacher's page: one HTML file that fetches nothing and answers, in order,

can I trust this class's data and reference? who needs me first? what should I teach again? then every student.

It is rendered from the record tree alone; here is only what is sorted, counted and folded for it. Its words are in
`templates/report.html.j2`, its looks in `report.css`, the sorting of its table in `report.js` (the page is whole
without it).
"""

import base64
from collections import Counter
from collections.abc import Callable, Mapping
from decimal import Decimal
from functools import cache
from typing import Any
from urllib.parse import quote

from jinja2 import Environment

from labmark import words
from labmark.exact import in_digits
from labmark.findings import is_private, runs_meant
from labmark.outputs import cards, layout, numbers, plots
from labmark.outputs.chart import Chart, with_dark_variant
from labmark.outputs.class_view import both_ways, class_view, figure_rows
from labmark.outputs.decision_rows import behind_readings, listed, moderation
from labmark.outputs.each import endpoints_of, expected_and_mean, reference_test, results_of, seen_by_results, titres_of
from labmark.outputs.engine import engine, policy
from labmark.outputs.evidence import facts, instead, named, plain, sentence, title
from labmark.outputs.forms import in_language, words_of
from labmark.outputs.own import BEING_CHECKED, all_own, shown, waiting
from labmark.places import templates_folder
from labmark.units import shown_unit
from labmark.words import group_name

Tree = dict[str, Any]
Usual = Mapping[tuple[bool, str], str]
"""In the mean, kind of run -> the reason that most such runs of the class have."""

LEVELS: dict[str, tuple[str, str, str]] = {
    "fault": ("■", "Fault", "plain from the student’s own figures"),
    "check": ("▲", "Check", "a likely explanation; look before relying on it"),
    "note": ("◇", "Note", "good to know; nothing to do"),
}
"""Level -> shape, word, meaning; most pressing first."""
FIGURES = ("robust_mean", "robust_sd", "repeatability_sd", "reproducibility_sd", "sigma", "mean", "sd")
"""Keys of the class figures that are shown."""
SHAPES = {True: "●", False: "×"}
"""In the mean, or a rough -> the shape that stands for it on every picture."""
FILTERS = (("all", "All"), ("look", "Need a look"), ("lost", "Lost marks"), ("far", "Outside ±2"))
"""Which students the table shows: code, name."""
LARGE = 100
"""Students from which a page with everything about each would be too heavy."""
FAR = 2.0
"""|z| from which a result is outside (ISO 13528: a warning signal)."""


def report(tree: Tree, chart: Chart) -> str:
    """Return the page for a record tree and its distribution chart, as text with line feeds.

    Everything from the sheet is escaped. The same tree gives the same text.
    """
    folder = templates_folder()
    style, script = ((folder / name).read_text(encoding="utf-8") for name in ("report.css", "report.js"))
    page = environment().get_template("report.html.j2")
    made = page.render(
        **view(tree),
        tree=tree,
        style=style,
        script=script,
        policy=policy(style, script),
        chart="data:image/svg+xml;base64," + base64.b64encode(with_dark_variant(chart.svg)).decode("ascii"),
        alt=chart.alt,
        tall=540 * chart.panels,
    )
    return in_language(made, words_of(tree))


@cache
def environment() -> Environment:
    """Return the engine with our filters, once: reading the template takes longer than filling it."""
    return engine(_FILTERS, _GLOBALS)


# Small things the template asks for ----------------------------------------------------------------------------------


def mean(value: Any) -> str:
    """Return a mean titre [cm³] to 0.01 cm³, as far as means are read and compared."""
    return numbers.fixed(value, 2)


def pressing(findings: list[Tree]) -> list[Tree]:
    """Return findings with the most pressing level first, otherwise as they stand."""
    return sorted(findings, key=lambda found: list(LEVELS).index(found["level"]))


def short(findings: list[Tree]) -> list[tuple[str, str, str]]:
    """Return (level, name, runs) of a student's findings, each kind once, most pressing first."""
    runs: dict[tuple[str, str], list[str]] = {}
    for one in pressing(findings):
        places = runs.setdefault((one["level"], one["finding"]), [])
        if one["run"] is not None:
            places += [words.run_called(run).removeprefix("run ") for run in runs_meant(one["run"], one["evidence"])]
        elif one["evidence"].get("result"):
            places.append(one["evidence"]["result"])
    return [(level, named(code), ", ".join(dict.fromkeys(places))) for (level, code), places in runs.items()]


def rate(part: float) -> str:
    """Return a small share with the figures it has: 0.022 is "2.2 %", 0.0006 is "0.06 %"."""
    return f"{Decimal(str(part)) * 100:f}".rstrip("0").rstrip(".") + " %"


_CALLED_SO: tuple[Callable[..., Any], ...] = (
    *(numbers.volume, numbers.percent, numbers.signed, numbers.probability, numbers.share, numbers.mark),
    *(numbers.significant, numbers.uncertainty, words.listed, numbers.addresses, in_digits),
    *(waiting, mean, pressing, rate, short, title, named, sentence, plain, facts, instead),
)
_FILTERS: dict[str, Callable[..., Any]] = {each.__name__: each for each in _CALLED_SO}
_FILTERS |= {"shown_mark": shown, "unit": shown_unit, "link": quote, "where": words.run_called, "ends": endpoints_of}
"""What the templates put a value through."""
_GLOBALS: dict[str, Any] = {
    "all_own": all_own,
    "group_name": group_name,
    "amounts": plots.amounts,
    "count": words.counted,
    "measured": numbers.with_uncertainty,
    "levels": LEVELS,
    "zip": zip,
}
"""What the templates call and read by a name."""


# What is sorted, counted and folded ----------------------------------------------------------------------------------


def view(tree: Tree) -> dict[str, Any]:
    """Return what the template shows beside the tree itself."""
    return {**_first_screen(tree), **_class_part(tree), **_students_part(tree)}


def _first_screen(tree: Tree) -> dict[str, Any]:
    """Return what stands on the three cards, and behind what is to be taught."""
    found, by_criterion = faults(tree), criteria(tree)
    shared = [row for row in found if row["common"] or len(row["students"]) > 1]
    pressing_ones = (one for one in tree["students"] if one["attention"])
    return {
        "read": read_line(tree),
        "trust": cards.trust(tree),
        "unread": cards.unread(tree),
        "ranked": sorted(pressing_ones, key=lambda one: int(one["attention"]["rank"])),
        "commonest": cards.commonest(tree, shared),
        "weakest": cards.weakest(by_criterion),
        "mean_mark": mean_mark(tree),
        "faults": shared,
        "single": [row for row in found if row not in shared],
        "criteria": by_criterion,
    }


def _class_part(tree: Tree) -> dict[str, Any]:
    """Return what is shown of practical, results and titres, and what was decided."""
    practical, results = tree["practical"], results_of(tree)
    return {
        "results": [_result_view(name, one) for name, one in results.items()],
        "titres": [_titre_view(place, name, tree) for place, name in enumerate(expected_and_mean(tree))],
        "units": [*filter(None, dict.fromkeys(shown_unit(one["practical"]["unit"]) for one in results.values()))],
        "both": both_ways(tree),
        "looked_for": {row["what"]: row["check"] for row in tree["class"]["looked_for"]},
        "moderation": moderation(tree),
        "decisions": listed(tree),
        "deferring": any("risk assessment" in line for line in practical["cautions"]),
        "equation": practical["derived"]["equation"],
    }


def _students_part(tree: Tree) -> dict[str, Any]:
    """Return what the table of students shows, and each of them below it."""
    students, rows = tree["students"], shown_rows(tree)
    return {
        "everybody": [
            (one, titres_of(one), seen, row) for (one, seen), row in zip(seen_by_results(tree), rows, strict=True)
        ],
        "large": is_large(tree),
        "filters": FILTERS,
        "counts": {
            code: len(rows) if code == "all" else sum(code in row["kinds"] for row in rows) for code, _ in FILTERS
        },
        "usual": [f"{SHAPES[used]} {why}" for (used, _), why in usual_reasons(tree).items()],
        "absent": [one for one in students if one["absent"]],
        "both_ways": any(one.get("accuracy_by_class") is not None for one in students),
        "accuracy_marked": any(row["accuracy"] for row in rows),
        "graded": bool(tree["practical"].get("grades")),
        "groupings": list(dict.fromkeys(name for one in students for name in one["groups"])),
    }


def _result_view(name: str, tree: Tree) -> dict[str, Any]:
    """Return what the page shows of a result; `of` names it where there are several."""
    picture = layout.picture_of(tree)
    wanted = tree["practical"]["result"]
    return class_view(tree, picture) | {
        "name": name,
        "of": f", {name}" if name else "",
        "reference": tree["reference"],
        "wanted": {key: value for key, value in wanted.items() if not name or key not in ("name", "reference")},
        "against": against(tree, name),
        "figures": class_figures(tree),
        "pictured": plots.groups(tree, picture),
        "several_references": _several(tree),
        "unit": shown_unit((tree["reference"] or {}).get("unit") or tree["practical"]["unit"]),
    }


def _titre_view(place: int, name: str, tree: Tree) -> dict[str, Any]:
    """Return what the page shows of a titre: everybody's runs, and each student's row of them."""
    strip = plots.runs_of_all({**tree, "students": [titres_of(one)[name] for one in tree["students"]]})
    own = {row["number"]: row for row in strip["rows"]} if strip else {}
    return {"name": name, "id": f"t{place}", "of": f", {name}" if name else "", "strip": strip, "own_row": own}


def read_line(tree: Tree) -> str:
    """Return what was read, in one line."""
    source, cells, group = tree["source"], tree["cells"], tree["class"]
    sheets = source["sheets"]
    named_sheets = f", {'sheet' if len(sheets) == 1 else 'sheets'} {words.listed(sheets)}" if sheets else ""
    absent = f", {group['absent']} absent" if group["absent"] else ""
    return (
        f"{source['file']}{named_sheets}: {words.counted(group['students'], 'student')}, "
        f"{words.counted(group['results'], 'result')}{absent}; {words.counted(cells['filled'], 'filled cell')} = "
        f"{cells['used']} used + {cells['ignored']} ignored + {cells['rejected']} rejected."
    )


def mean_mark(tree: Tree) -> str:
    """Return the mean mark in words; empty where nobody has one."""
    marks = tree["class"]["marks"]
    if marks["mean_percent"] is None:
        return ""
    if marks["out_of"] is None:
        return f"Mean mark {numbers.significant(marks['mean_percent'], 3)} %; not all are marked out of the same."
    return f"Mean mark {numbers.fixed(marks['mean'], 1)} of {numbers.mark(marks['out_of'])}."


def against(tree: Tree, name: str = "") -> list[tuple[str, str, str, str]]:
    """Return rows (what, reference, class, difference) that set the reference beside the class.

    `name` is that of the result where there are several: then the titres that it rests on have a row each. Where
    students have references of their own, the class's figure is the one turned to this reference.
    """
    reference, group, test = tree["reference"] or {}, tree["class"], reference_test(tree)
    spread = reference.get("standard_uncertainty")
    value, expanded = numbers.with_uncertainty(reference.get("value"), None if spread is None else 2 * spread)
    own = value if expanded == numbers.NOTHING else f"{value} ± {expanded} (k = 2)"
    unit = shown_unit(reference.get("unit") or tree["practical"]["unit"])
    middle = test.get("robust_mean") or group.get("robust_mean")
    centre = numbers.with_uncertainty(middle, None if spread is None else 2 * spread)[0]
    rows = [(f"Result, {unit}", own, centre, numbers.percent(test.get("shift_percent")))]
    if name:
        titres, of = expected_and_mean(tree), tree["practical"]["derived"]["rests_on"][name]
        rows += [(f"Titre {titre}, cm³", *_titre_row(*titres[titre])) for titre in of]
    elif group["expected_titre"] is not None and not _several(tree):
        rows.append(("Titre, cm³", mean(group["expected_titre"]), *_titre_of_class(tree)))
    return rows


def _titre_row(expected: Any, found: Any) -> tuple[str, str, str]:
    difference = None if expected is None or found is None else float(found) - float(expected)
    return mean(expected), mean(found), numbers.signed(difference, 2)


def _titre_of_class(tree: Tree) -> tuple[str, str]:
    """Return (titre, difference from the expected one) [cm³] of the class centre.

    The plain mean of the titres stands in where the reference was not tested: one wild student moves it.
    """
    shift = reference_test(tree).get("shift_titre")
    if shift is None:
        return mean(tree["class"].get("mean_titre")), numbers.NOTHING
    return mean(float(tree["class"]["expected_titre"]) + shift), numbers.signed(shift, 2)


def _several(tree: Tree) -> bool:
    """Return whether students are held against different references."""
    return len({one["reference"]["value"] for one in tree["students"] if one["reference"]}) > 1


def class_figures(tree: Tree) -> list[tuple[str, str, str]]:
    """Return rows (name, figure, meaning) of the class figures that there are."""
    group = tree["class"]
    spread = group.get("robust_sd") or group.get("sd") or group.get("sigma")

    def shown(key: str, value: float) -> str:
        exact = key in ("robust_mean", "mean") and spread
        return numbers.fixed(value, numbers.places(spread, 2)) if exact else numbers.uncertainty(value)

    return figure_rows(group, FIGURES, shown)


def faults(tree: Tree) -> list[dict[str, Any]]:
    """Return the findings that students share, most students first.

    Each has its code, its most pressing level, its students, and whether the class findings call it common.
    """
    order = list(LEVELS)
    common = {one["evidence"].get("finding") for one in tree["class"]["findings"] if one["finding"] == "common-fault"}
    had: dict[str, list[tuple[str, Tree]]] = {}
    for one in tree["students"]:
        for found in one["findings"]:
            had.setdefault(found["finding"], []).append((found["level"], one))
    # What is private is a question to a few, nothing to teach.
    rows = [_fault(code, those, code in common) for code, those in had.items() if not is_private(code)]
    shown = [row for row in rows if row["level"] != "note"]
    return sorted(shown, key=lambda row: (-len(row["students"]), order.index(row["level"]), row["code"]))


def _fault(code: str, those: list[tuple[str, Tree]], common: bool) -> dict[str, Any]:
    """Return a row of findings with their levels and students."""
    level = min((level for level, _ in those), key=list(LEVELS).index)
    students = list({id(one): one for _, one in those}.values())
    return {"code": code, "level": level, "students": students, "common": common}


def criteria(tree: Tree) -> list[dict[str, Any]]:
    """Return the criteria, fewest full marks first, then the lowest mean; those that wait last.

    Each is as in the tree, with the width of its bar.
    """
    rows = tree["class"]["marks"]["by_criterion"]
    shown = [one | {"width": round(100 * one["full"] / one["of"], 1) if one["of"] else 0} for one in rows]
    return sorted(shown, key=lambda row: (not row["of"], row["width"], row["of"] and row["mean"] / row["out_of"]))


# Each student: where they stand in the table, whether they are open, what is said once --------------------------------


def shown_rows(tree: Tree) -> list[Tree]:
    """Return every student as the report shows them."""
    usual, large = usual_reasons(tree), is_large(tree)
    concerned = {one["number"] for found in tree["class"]["findings"] for one in cards.members_of(found, tree)}
    return [_shown(one, seen, usual, concerned, large) for one, seen in seen_by_results(tree)]


def is_large(tree: Tree) -> bool:
    """Return whether a class is so large that the report tells of each student what matters alone."""
    return len(tree["students"]) > LARGE


def _shown(one: Tree, seen: list[Tree], usual: Usual, concerned: set[int], large: bool) -> Tree:
    full = [mark for mark in one["marks"] if large and mark["mark"] == mark["out_of"] and mark["by"] != "teacher"]
    return {
        "kinds": _kinds(one, seen),
        "accuracy": accuracy_of(one),
        "asking": sum(found["level"] != "note" for found in one["findings"]),
        "open": bool(one["attention"]) or one["number"] in concerned,
        "readings": _readings(one, usual),
        "marks": [mark for mark in one["marks"] if mark not in full],
        # Criteria with full marks that are only named.
        "full": [mark["title"] for mark in full],
    }


def _kinds(one: Tree, seen: list[Tree]) -> list[str]:
    """Return the filters of the table that show a student."""
    settled = [mark for mark in one["marks"] if mark["mark"] is not None and not one.get("excused")]
    kinds = {
        "look": bool(one["attention"]),
        "lost": any(mark["mark"] < mark["out_of"] for mark in settled),
        "far": any(each["z"] is not None and abs(each["z"]) > FAR for each in seen),
    }
    return [kind for kind, is_so in kinds.items() if is_so]


def accuracy_of(one: Tree) -> str:
    """Return the accuracy mark: "3", or "0, by the class 3" while it waits."""
    marks = [mark for mark in one["marks"] if mark["criterion"] == "accuracy"]
    if any(mark.get("pending") for mark in marks):
        both = one["accuracy_by_reference"], one["accuracy_by_class"]
        return BEING_CHECKED if None in both else "{}, by the class {}".format(*map(numbers.mark, both))
    return ", ".join(numbers.mark(mark["mark"]) for mark in marks)


def usual_reasons(tree: Tree) -> dict[tuple[bool, str], str]:
    """Return the reason that most runs of a kind have for being in the mean, or not, where it is that of several."""
    counts: dict[tuple[bool, str], Counter[str]] = {}
    for run in (run for one in tree["students"] for run in one["runs"] if run["used"] or run["kind"] == "rough"):
        counts.setdefault((run["used"], run["kind"]), Counter())[run["why"]] += 1
    commonest = {key: found.most_common(1)[0] for key, found in counts.items()}
    return {key: why for key, (why, number) in commonest.items() if number > 1}


def _readings(one: Tree, usual: Usual) -> Tree:
    """Return which columns the table of a student's readings needs, and what is said once above it."""
    runs = one["runs"]
    ends = [end for run in runs for end in endpoints_of(run).values()]
    titres = any(end["claimed_titre"] not in (None, end["titre"]) for end in ends)
    ticked = any(run["claimed_used"] is not None for run in runs)
    ticks = ticked and any(bool(run["claimed_used"]) != run["used"] for run in runs)
    why = [_reason(run, usual) for run in runs]
    said = {
        "Every titre that was written follows from its readings.": not titres
        and any(end["claimed_titre"] is not None for end in ends),
        "The ticks are at the runs in the mean.": ticked and not ticks,
    }
    # A reason for each run, blank where it is the usual one; none where all are.
    shown = {"titres": titres, "ticks": ticks, "why": why if any(why) else []}
    return shown | {"said": [sentence for sentence, is_so in said.items() if is_so]}


def _reason(run: Tree, usual: Usual) -> str:
    """Return why a run is in the mean or not, where that is not the usual reason, and what may have been meant."""
    parts = ["" if usual.get((run["used"], run["kind"])) == run["why"] else run["why"], behind_readings(run)]
    meant = (
        f"Perhaps meant: {name} {numbers.volume(end['likely'])} (a suggestion, not used)".replace("  ", " ")
        for name, end in endpoints_of(run).items()
        if end["likely"] is not None
    )
    return " ".join(filter(None, map(sentence, (*parts, *meant))))
