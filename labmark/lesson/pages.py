"""The pages of a lesson as PDF/UA-1: the technician's card, and the page that a student fills in at the bench.

They are what `labmark prepare` writes, with the data behind them.
"""

import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from labmark.lesson.columns import DEFERS, Column, columns_of
from labmark.lesson.curve import Curve
from labmark.lesson.prepare import Prepared, prepared, told
from labmark.lesson.quantities_needed import SAMPLE
from labmark.lesson.roll import NAME, Roll
from labmark.lesson.titration import UNADJUSTED
from labmark.meaning import Example, asked, expected_titres
from labmark.outputs.folder import one_writer, write_folder
from labmark.outputs.forms import Forms, names_in, texts_in
from labmark.outputs.numbers import fixed, share, significant
from labmark.outputs.press import STANDARD, compiler
from labmark.outputs.printable import all_printable, families, printable_name
from labmark.practical import Practical
from labmark.practical.hazards import BENCH_CAUTIONS, cautions_of, indicator_cautions
from labmark.practical.load import NONE, School
from labmark.practical.own import BLANK_TITRE
from labmark.practicals import named
from labmark.units import shown_unit
from labmark.words import begun, counted, listed

Tree = Mapping[str, Any]
POINTS = 240
"""Of the curve that is drawn."""
NOT_PRINTED = frozenset({NAME, "Email", "Attempt", "Partner", "Order"})
"""Headings of the list that a results sheet has no line for: the name stands over it, the others are for files."""


def pdf(template: str, data: Mapping[str, Any], forms: Forms, said: Tree | None = None) -> bytes:
    """Return the page that a template of the lesson makes of its data, in these forms; `said` is in them already."""
    words = {"language": forms.language, "words": forms.labels(f"{template}.typ"), "fonts": families()}
    text = json.dumps({**all_printable({**forms.all(data), **(said or {})}), **words}, ensure_ascii=False)
    source = f'#import "{template}.typ": page\n#page\n'.encode()
    made: bytes = compiler(text).compile(input=source, format="pdf", pdf_standards=[STANDARD])
    return made


def card(prepared: Prepared) -> bytes:
    """Return the technician's card."""
    file = prepared.practical.file
    forms = Forms(language=file.sheet.language, names=frozenset(names_in(file.model_dump())))
    return pdf("card", {**_to_prepare(prepared), **_to_expect(prepared)}, forms)


def _to_prepare(prepared: Prepared) -> dict[str, Any]:
    """Return what the card says of what there must be: solutions and cautions."""
    tree, practical, file = prepared.tree, prepared.practical, prepared.practical.file
    sets = f"{tree['classes']} classes of " if tree["classes"] > 1 else ""
    indicators = [f"{each.name}: {each.indicator}" for each in file.titrations if each.indicator]
    return {
        "title": f"Technician’s card: {file.title}",
        "paper": file.sheet.paper,
        "for": f"For {sets}{counted(tree['students'], 'student')} with {tree['runs']} runs each, the rough included, "
        f"and {tree['reserve_percent']} % to spare.",
        "defers": DEFERS,
        "equations": list(dict.fromkeys(each.shown for each in practical.equations)),
        "with": "; ".join(indicators or [file.indicator]),
        "solutions": [_solution(each) for each in tree["solutions"]],
        "cautions": [*file.cautions, *indicator_cautions(practical), *BENCH_CAUTIONS],
        "warnings": [each["message"] for each in [*tree["warnings"], *tree["missing"]]],
    }


def _to_expect(prepared: Prepared) -> dict[str, Any]:
    """Return what the card says of what the titration will give: titre, curve, indicator, uncertainty, the class."""
    tree, practical, first = prepared.tree, prepared.practical, prepared.examples[0]
    expected, foresight = tree["expected_titre"], tree["foresight"]
    capacity = float(practical.file.burette.capacity)
    return {
        "expected": listed([f"{name} {titre} cm³".strip() for name, titre in expected_titres(practical).items()]),
        "accept": f"{fixed(expected['low'], 2)} to {fixed(expected['high'], 2)} cm³" if expected else "",
        "usual": first.usual,
        "curve": _drawn(tree, prepared.curves, capacity) if prepared.curves else None,
        "unadjusted": f"{UNADJUSTED} Constants: {'; '.join(prepared.constants) or 'none needed'}.",
        "indicator": [*_told(tree)],
        "budget": [_line(each) for each in tree["budget"]],
        "advice": tree["advice"],
        "improvements": [[each["with"], f"{significant(each['percent'], 2)} %"] for each in tree["improvements"]],
        "foresight": told(foresight, tree["students"], float(first.titre)) if foresight else None,
    }


def _solution(each: Tree) -> dict[str, Any]:
    """Return a solution in words: how much of it, and how it is made."""
    strength = f"{significant(each['concentration'], 4)} mol/dm³" if each["concentration"] is not None else ""
    total = f"{each['total_cm3']} cm³" if each["total_cm3"] else ""
    return {
        "called": each["name"],
        "role": "in excess" if each["role"] == "excess" else each["role"],
        "strength": strength,
        "each": f"{each['per_student_cm3']} cm³" if each["per_student_cm3"] else "",
        "total": total,
        "how": " ".join(_how(each, total)),
        "weighed": each["each_g"] is not None,
        "caution": begun(each["caution"].partition(": ")[2]),
    }


def _how(each: Tree, total: str) -> Iterator[str]:
    """Yield how a solution is made up, a sentence each, and what to mind."""
    mass, unit = each["mass_g"], "cm³" if each["from_stock"] else "g"
    yield from _made(each, total)
    if each["per_dm3"] is not None and each["total_cm3"] > 1000:
        yield f"That is {significant(each['per_dm3'], 3)} {unit} for each 1000 cm³."
    if each["diluting"] and each["from_stock"]:
        yield f"{begun(each['diluting'])}."
    if each["note"] and each["name"] != SAMPLE and not each["original"]:
        yield f"{begun(each['note'])}."
    if each["caution_of_original"]:
        yield f"{begun(each['caution_of_original'])}."
    if each["exact"] and each["each_g"] is not None:
        yield "Weigh it exactly."
    elif each["exact"] and mass is not None:
        yield "Weigh it exactly, into a volumetric flask."


def _made(each: Tree, total: str) -> Iterator[str]:
    """Yield what is weighed or diluted for a solution."""
    stock, mass = each["from_stock"], each["mass_g"]
    if each["each_g"] is not None:
        if mass is None:
            yield "It is weighed; how much of it the practical does not say."
        else:
            yield f"{significant(each['each_g'], 3)} g for each student: have {significant(mass, 3)} g ready."
    elif mass is not None:
        yield f"Weigh {significant(mass, 3)} g of {each['solid']}, dissolve it and make it up to {total}."
    elif stock is not None:
        of = "the original" if each["original"] else f"{stock['concentration']:g} mol/dm³ {each['name']}"
        yield f"Make {significant(stock['volume_cm3'], 3)} cm³ of {of} up to {total}."
        yield "Use pipette and volumetric flask." if each["original"] else "A measuring cylinder will do."
    elif not each["note"]:
        yield f"Have {total} ready."
        if each["role"] != "flask":
            yield "How it is made, labmark does not know."


def _told(tree: Tree) -> Iterator[str]:
    """Yield how each indicator does, in sentences; nothing where nothing is known of it."""
    for found in tree["indicators"]:
        bias = found["bias_cm3"]
        where = f"its change begins {fixed(abs(bias), 2)} cm³ {'after' if bias > 0 else 'before'} it"
        if abs(bias) < 0.005:
            where = "its change begins there" if bias else "equivalence lies within its range"
        first = f"Up to {found['name']} {fixed(found['titre_cm3'], 2)} cm³ are run in. " * (tree["indicator"] is None)
        yield (
            f"{first}At equivalence the pH is {fixed(found['ph_at_equivalence'], 1)}; one drop (0.05 cm³) before it is "
            f"{fixed(found['ph_before'], 1)}, one drop after {fixed(found['ph_after'], 1)}. "
            f"{found['name'].capitalize()} changes from pH {found['low']} to {found['high']} "
            f"(source: {found['source']}): {where}. {'It suits.' if found['suits'] else 'It does not suit.'}"
        )


def _line(row: Tree) -> list[str]:
    u = f"{significant(row['value'], 2)} {shown_unit(row['unit'])}"
    return [row["source"], u, f"{significant(row['percent'], 2)} %", share(row["share"])]


def _drawn(tree: Tree, curves: Sequence[Curve], capacity: float) -> dict[str, Any]:
    """Return the curve as points between 0 and 1 from the left and from the top, with its axes."""
    curve, found, about = curves[-1], tree["indicators"], tree["curve"]
    end = min(max(1.6 * curve.equivalence, 10.0), max(capacity, 1.2 * curve.equivalence))
    steep = [each.equivalence + np.linspace(-0.5, 0.5, 81) for each in curves]
    volumes = np.unique(np.concatenate([np.linspace(0, end, POINTS), *steep]))
    volumes = volumes[(volumes >= 0) & (volumes <= end)]
    measured = curve.at(volumes)
    high = 14.0 if curve.quantity == "pH" else float(np.ceil(measured.max()))
    step = 5 if end <= 30 else 10
    points = zip(volumes / end, (high - measured) / high, strict=True)
    ends = [[round((high - each[key]) / high, 4) for key in ("high", "low")] for each in found]
    return {
        "points": [[round(x, 4), round(y, 4)] for x, y in points],
        "x": [[round(tick / end, 4), f"{tick}"] for tick in range(0, int(end) + 1, step)],
        "y": [[round((high - tick) / high, 4), f"{tick}"] for tick in range(0, int(high) + 1, 2)],
        "equivalences": [round(each.equivalence / end, 4) for each in curves],
        "bands": [[*band, each["name"]] for band, each in zip(ends, found, strict=True)],
        "quantity": curve.quantity,
        "held": f"Worked at the pH of the buffer, {about['buffer_ph']:g}." if "buffer_ph" in about else "",
        "alt": _curve_in_words(curve, about, found),
    }


def _curve_in_words(curve: Curve, about: Tree, indicators: Sequence[Tree]) -> str:
    unit = curve.quantity
    colours = [f"; the colour of {each['name']} changes from {each['low']} to {each['high']}" for each in indicators]
    return (
        f"Titration curve, {unit} against cm³ of titrant: {unit} {about['before']} a drop before "
        f"equivalence at {fixed(curve.equivalence, 2)} cm³, {about['at_equivalence']} there, {about['after']} a drop "
        f"after{''.join(colours)}."
    )


def results_sheets(practical: Practical, examples: Sequence[Example], runs: int, roll: Roll | None = None) -> bytes:
    """Return a page to fill in at the bench, or one for each student of a list with what it says of them printed on it.

    It has boxes for the readings of a rough and so many runs, the working with gaps, and the columns they go to.
    """
    look, typed = practical.file.sheet.model_dump(), practical.file.model_dump()
    forms = Forms.of(look, texts_in(typed), names_in(typed))
    headings = {name for each in practical.own.values() for name in (each.column, each.minus) if name}
    headings |= {*practical.several.names, *(name.lower() for name in headings)}
    # A heading stands here as it does in the class workbook.
    headed = Forms.of(look, forms.typed, forms.names | headings, headings)
    given = roll.headings if roll else ()
    columns = [each for each in columns_of(practical, runs) if each.heading not in given]
    return pdf(
        "results-sheet",
        {
            "title": practical.file.title,
            "paper": look["paper"],
            "large": look["size"] == "large",
            "readings": "Your readings, in cm³, to the nearest 0.05 (two decimals)",
            "volume": "cm³",
            "equations": list(dict.fromkeys(each.shown for each in practical.equations)),
            "given": list(dict.fromkeys(line for each in examples for line in _given(each))),
            "workings": [_gaps(each) for each in examples],
            "cautions": list(dict.fromkeys([*cautions_of(practical), *practical.file.cautions, *BENCH_CAUTIONS])),
            "defers": DEFERS,
        },
        forms,
        {**headed.all(_headings(columns)), "students": _named(roll, forms) if roll else [{"name": ""}]},
    )


def _named(roll: Roll, forms: Forms) -> list[dict[str, Any]]:
    """Return each student of a list, with what the list says of them that matters at the bench: ID, class, groups."""
    places = [at for at, heading in enumerate(roll.headings) if heading not in NOT_PRINTED]
    heads = {at: forms.words(roll.headings[at]) for at in places}
    return [
        {"name": printable_name(row[0], number), "about": [[heads[at], row[at]] for at in places]}
        for number, row in enumerate(roll.rows, 1)
    ]


def _headings(columns: Sequence[Column]) -> dict[str, Any]:
    """Return the columns of the class workbook as they stand on the page: once, for each run, means, the others."""
    of_runs = [each for each in columns if each.run]
    return {
        "once": [each.heading for each in columns[: columns.index(of_runs[0])]],
        "tables": [
            {"name": name, **_boxes([each for each in of_runs if each.titration == name])}
            for name in dict.fromkeys(each.titration for each in of_runs)
        ],
        "means": [each.heading for each in columns[columns.index(of_runs[-1]) + 1 :] if each.holds == "titre"],
        "heading": of_runs[-1].heading,
        "others": [each.heading for each in columns if not each.run],
    }


def _boxes(columns: Sequence[Column]) -> dict[str, Any]:
    """Return the runs of one titration, and each line with whether each run has a box for it."""
    runs, lines = dict.fromkeys(each.run for each in columns), dict.fromkeys(each.line for each in columns)
    there = {(each.run, each.line) for each in columns}
    names = [run.removeprefix(f"{columns[0].titration} ").capitalize() for run in runs]
    return {"runs": names, "lines": [[line, [(run, line) in there for run in runs]] for line in lines]}


def _gaps(example: Example) -> dict[str, Any]:
    """Return the steps of a working without its numbers."""
    practical = example.practical
    figures = practical.file.result.significant_figures
    steps = example.formula.working(figures, titre=example.titre)
    return {
        "asked": asked(practical),
        "figures": figures,
        "steps": [[step.what, step.formula, shown_unit(step.unit)] for step in steps],
    }


def _given(example: Example) -> Iterator[str]:
    """Yield each number that everybody is given: the known concentration, the aliquot, the blank."""
    own = example.practical.own
    for each in example.formula.inputs:
        # What another titration gives is found by everybody, but for the blank where the practical says it.
        found = each.kind in ("ratio", "titre") and BLANK_TITRE not in each.name
        if "." in each.name and not found and each.name not in own:
            yield f"{each.words}: {each.text} {shown_unit(each.unit)}"


def write_preparation(practical: str, students: int, classes: int, out: Path, school: School = NONE) -> dict[str, Any]:
    """Write the folder of what a lesson needs; return what stands in its `prepare.json`. Raises InputError."""
    with one_writer(out):
        made = prepared(named(practical, school), students, classes, practical)
        text = json.dumps(made.tree, ensure_ascii=False, indent=1) + "\n"
        pages = {
            "card.pdf": card(made),
            "results-sheet.pdf": results_sheets(made.practical, made.examples, made.tree["runs"] - 1),
        }
        write_folder(out, [*pages.items(), ("prepare.json", text.encode())])
    return made.tree
