"""What the terminal says: what was read, who needs attention and why, where the output is.

Texts are returned, not printed; colours go in as click styles, which click takes out again where there is no terminal.
"""

import sys
import textwrap
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from labmark.meaning import asked, concerns, expected_titres, references_of, taken
from labmark.outputs.each import results_of
from labmark.outputs.numbers import significant
from labmark.practical import Practical
from labmark.practical.kinds import formula_of
from labmark.records import NOT_UNDERSTOOD
from labmark.units import shown_unit
from labmark.words import counted, listed, shortened

if TYPE_CHECKING:
    from labmark.cohort.run import Cohort
    from labmark.lesson.class_sheet import Written
    from labmark.pipeline import Marked

Tree = dict[str, Any]

FIRST = 6
"""Students named as needing a human eye; the report lists them all."""
PATIENCE = 1.0
"""Seconds before a progress bar appears for one class."""
MOST_LINES = 12
"""Lines of one kind that are shown: notes, reasons, warnings; results.json and the report hold them all."""
MOST_CELLS = 6
"""Cells named for one reason."""
WIDTH = 80
"""Columns that a line may take."""
NEARLY_ALL = 2
"""So few more than fit are sooner shown than counted."""


@contextmanager
def progress(what: str, *, quiet: bool, patience: float = 0.0) -> Iterator[Callable[[int, int], None] | None]:
    """Give a callback that shows how many are done, and how fast, once the work has taken `patience` seconds."""
    begun = time.monotonic()
    bar: list[Any] = []

    def show(done: int, of: int) -> None:
        if not bar:
            if time.monotonic() - begun < patience or done >= of:
                return
            rate = lambda _: f"{bar[0].pos / max(time.monotonic() - begun, 1e-3):.1f} a second"  # noqa: E731
            drawn = click.progressbar(length=of, label=what, show_pos=True, item_show_func=rate, file=sys.stderr)
            # It asks for the rate as soon as it is entered.
            bar.append(drawn)
            drawn.__enter__()
        bar[0].update(done - bar[0].pos)

    try:
        yield None if quiet else show
    finally:
        if bar:
            bar[0].__exit__(None, None, None)


def summary(done: "Marked") -> str:
    """Return what `mark` says when it is done."""
    tree = done.tree
    lines = [*_read(tree), "", *_class(tree), "", *_attention(tree, "the report ranks them all"), ""]
    lines += [f"Kept a file of yours that had been changed: {name}" for name in done.kept]
    lines += _cut(done.warnings, "more of these")
    lines += [f"Wrote {done.folder}", f"  look first at {done.folder / 'report.html'}"]
    return "\n".join(lines)


def understanding(tree: Tree) -> str:
    """Return what `check` shows: the reading, the account of cells, the class, and who would need attention."""
    lines = [*_read(tree), ""]
    lines += ["How the sheet was understood", *(f"  {each}" for each in tree["source"]["understood"]), ""]
    lines += [
        *_cut([f"  note: {note}" for note in tree["source"]["notes"]], f"more notes; {_WHEN_MARKED}"),
        *_account(tree, "ignored"),
        *_account(tree, "rejected"),
        "",
        *_practical(tree),
        "",
        *_class(tree),
        "",
        *_attention(tree, "the report of `labmark mark` ranks them all"),
    ]
    lines += ["", "Nothing was written. If a column was misunderstood: labmark check ... --mapping"]
    return "\n".join(lines)


_WHEN_MARKED = "results.json of `labmark mark` holds them all"


def _cut(lines: Sequence[str], more: str, most: int = MOST_LINES) -> list[str]:
    """Return the first of many lines, and how many more there are."""
    if len(lines) <= most + NEARLY_ALL:
        return list(lines)
    return [*lines[:most], f"  and {_number(len(lines) - most)} {more}"]


def _number(number: int) -> str:
    """Return a number with its thousands apart where it has five figures or more."""
    return f"{number:,}".replace(",", " ") if number >= 10_000 else str(number)


def _many(number: int, one: str) -> str:
    return counted(_number(number), one)


def _read(tree: Tree) -> list[str]:
    cells, source = tree["cells"], tree["source"]
    figures = tree["class"]
    runs = sum(len(student["runs"]) for student in tree["students"])
    named = [name for name in source["sheets"] if name]
    sheets = f" (sheet{'' if len(named) == 1 else 's'} {', '.join(named)})" if named else ""
    absent = f", {_number(figures['absent'])} absent" if figures["absent"] else ""
    rejected = f"{_number(cells['rejected'])} rejected"
    if cells["rejected"]:
        rejected = click.style(rejected, fg="yellow", bold=True)
    return [
        f"{click.style(tree['practical']['title'], bold=True)}: {source['file']}{sheets}",
        f"  {_many(figures['students'], 'student')}{absent}, {_many(runs, 'run')}; "
        f"{_number(cells['filled'])} filled cells: {_number(cells['used'])} used, "
        f"{_number(cells['ignored'])} ignored, {rejected}",
    ]


def _practical(tree: Tree) -> list[str]:
    """Return the practical as it was understood, a line each."""
    practical, derived = tree["practical"], tree["practical"]["derived"]
    back, given = derived.get("back_titration"), practical.get("results") or [practical]
    expected = derived.get("expected_titres") or {"": derived["expected_titre"]}
    known = {name: Decimal(f"{titre}") for name, titre in expected.items() if titre is not None}
    # The endpoints of a run share one filling of the burette.
    delivered = [sum(known.values())] if practical.get("endpoints") and known else known.values()
    capacity = Decimal(f"{practical['burette']['capacity']}")
    asked = listed([each["of"] for each in practical.get("results") or [practical["result"]]])
    lines = [f"Practical: {derived['equation']}; {asked} unknown"]
    lines += [f"  back titration, blank titre {back['blank_titre']} cm³"] if back else []
    if all(each["reference"] is None for each in given):
        lines.append("  no reference: the class is compared with its own centre")
    else:
        titres = [f"  expected titre {name}".rstrip() + f" {titre} cm³" for name, titre in known.items()]
        lines += titres or ["  expected titre: not the same for everybody"]
    return [*lines, *(f"  {each}" for volume in delivered for each in concerns(capacity, Decimal(volume)))]


def _account(tree: Tree, which: str) -> list[str]:
    everything = tree["cells"][f"{which}_cells"]
    # Headings are understood above; what a teacher looks for here is what surprises.
    cells = [each for each in everything if not each["why"].startswith("header")]
    if not cells:
        return [f"No cell was {which}." if not everything else f"No cell but headings was {which}."]
    # A line for each reason, so that the one surprise is seen among a thousand dashes.
    by_reason: dict[str, list[str]] = {}
    for each in cells:
        by_reason.setdefault(each["why"], []).append(each["cell"])
    lines = [f"  {_some(places)}: {why}" for why, places in by_reason.items()]
    return [f"Cells {which}", *_cut(lines, f"more reasons; {_WHEN_MARKED}")]


def _some(places: Sequence[str]) -> str:
    """Return the first of many cells, and how many more there are."""
    if len(places) <= MOST_CELLS + NEARLY_ALL:
        return ", ".join(places)
    return f"{', '.join(places[:MOST_CELLS])} and {_number(len(places) - MOST_CELLS)} more"


def _class(tree: Tree) -> list[str]:
    """Return the figures of the class, a line each."""
    figures = tree["class"]
    lines, marks = [*_centres(tree)], figures["marks"]
    if marks["mean_percent"] is not None:
        one_scale = marks["out_of"] is not None
        mean = f"{marks['mean']:.1f} of {marks['out_of']}" if one_scale else f"{marks['mean_percent']:.0f} %"
        lines.append(f"Marks: mean {mean}")
    waits = [
        f"{each['title']} ({counted(each['pending'], 'student')})" for each in marks["by_criterion"] if each["pending"]
    ]
    lines += [f"Being checked: {', '.join(waits)}"] if waits else []
    found = (each["message"] for each in figures["findings"] if not each.get("aside"))
    lines += [f"{click.style('class', fg='yellow')}  {message}" for message in found]
    if figures.get("not_marked"):
        lines.append(f"Not marked, as there is nothing to mark it on: {', '.join(figures['not_marked'])}")
        # A column of results under a heading of its own may be what is missed.
        lines += [f"  {note}" for note in tree["source"]["notes"] if note.startswith(NOT_UNDERSTOOD)]
    return lines


def _centres(tree: Tree) -> Iterator[str]:
    """Yield what the class gives and what it is held against: a line for each reference, or one for all."""
    for name, one in results_of(tree).items():
        figures, before, reference = one["class"], f"{name}: " if name else "", one["reference"]
        several = figures["statistics"].get("by_reference") or []
        if sum(not group["groups"] for group in several) > 1:
            yield f"{before}{'each' if name else 'Each'} student is compared with a reference of their own"
        elif len(several) > 1:
            for group in several:
                who = before + (", ".join(group["groups"]) or "Others")
                yield _centre(one, who, group, group["reference"])
        elif figures["robust_mean"] is not None:
            value = None if reference is None or reference["from"] == "class" else reference["value"]
            yield _centre(one, f"{before}the class" if name else "The class", figures, value)


def _centre(tree: Tree, who: str, figures: Tree, reference: float | None) -> str:
    unit, digits = shown_unit(tree["practical"]["unit"]), tree["practical"]["result"]["significant_figures"] + 1
    if figures["robust_mean"] is None:
        return f"{who}: no result"
    text = f"{who} gives {significant(figures['robust_mean'], digits)} {unit}".rstrip()
    if figures["robust_sd"] is not None:
        text += f", robust standard deviation {significant(figures['robust_sd'], 2)}"
    if reference is None:
        return f"{text}; there is no other reference"
    return f"{text}; reference {significant(reference, digits)} {unit}".rstrip()


def _attention(tree: Tree, where: str) -> list[str]:
    pressing = sorted(
        (each for each in tree["students"] if each["attention"]), key=lambda each: each["attention"]["rank"]
    )
    if not pressing:
        return ["Nobody needs a second look."]
    width = min(24, max(len(each["student"]) for each in pressing[: FIRST + NEARLY_ALL]))
    lines = []
    for each in pressing:
        name = shortened(each["student"], width).ljust(width)
        lines.append(f"  {click.style(name, bold=True)}  {each['attention']['why']}")
    students = f"{_number(len(pressing))} of {_many(tree['class']['students'], 'student')}"
    return [f"Look first at ({students})", *_cut(lines, f"more; {where}", FIRST)]


# --- cohort ---


def cohort(done: "Cohort") -> str:
    """Return what `cohort` says when it is done: what could not be used, the figures, where to look."""
    tree = done.tree
    usable = [each for each in tree["classes"] if each["error"] is None]
    lines = [f"labmark: {error}" for error in done.errors]
    lines += _cut([f"Passed over, as it is no class sheet: {name}" for name in done.passed], "more of these")
    lines += _cut(done.said, "more of these")
    if not done.written:
        return "\n".join([*lines, f"No class can be used, so the earlier cohort is left as it was in {done.folder}"])
    classes = "1 class" if len(usable) == 1 else f"{_number(len(usable))} classes"
    lines += [f"{classes}, {_many(tree['cohort']['students'], 'student')}"]
    return "\n".join([*lines, f"Wrote {done.folder}", f"  look first at {done.folder / 'cohort.html'}"])


# --- practicals ---


def listed_practicals(shipped: Mapping[str, Practical]) -> str:
    """Return the practicals that ship, each with what is asked, the expected titre and the equations."""
    lines = [line for name, practical in shipped.items() for line in _in_short(name, practical)]
    return "\n".join([*lines, "", "One in full: labmark practicals NAME", "To edit a copy: add --new FILE"])


def one_practical(name: str, practical: Practical, text: str) -> str:
    """Return one practical in short, and the text of its file."""
    return "\n".join(
        [*_in_short(name, practical), "", text.rstrip(), "", _means(name), "To edit a copy: add --new FILE"]
    )


def copied(name: str, practical: Practical, new: str) -> str:
    """Return what to change in the copy of a practical."""
    inputs = [each for each in formula_of(practical).inputs if "." in each.name and each.kind != "ratio"]
    told = {"title, cautions": "", **{each.name: f"{each.text} {shown_unit(each.unit)}" for each in inputs}}
    given = [f"{float(value):g} {group}".rstrip() for group, value in references_of(practical).items()]
    if given:
        told["reference"] = f"{', '.join(given)} {shown_unit(practical.unit)}: what the technician found"
    told |= {key: taken(own) for key, own in practical.own.items()} | {"marks": "the marking scheme"}
    lines = [f"  {key:<27} {what}".rstrip() for key, what in told.items()]
    return "\n".join([f"Wrote {new}, a copy of {name}. Change in it, with any text editor:", *lines, _means(new)])


def class_sheet(written: "Written") -> str:
    """Return what `sheet` says when it is done."""
    lines = [
        f"Wrote {written.file}: {counted(written.students, 'student')}, a rough and {counted(written.runs, 'run')}"
    ]
    if written.left_out:
        lines.append(f"  left out of the list, as a class sheet has no use for it: {listed([*written.left_out])}")
    if written.unprinted:
        lines.append(f"  instead of names that cannot be printed the pages say {listed([*written.unprinted])}")
    if written.file.suffix.lower() != ".pdf":
        lines.append(f"When it is filled in: labmark mark {_quoted(str(written.file))}")
    return "\n".join(lines)


def preparation(tree: Tree, out: Path) -> str:
    """Return what `prepare` says when it is done: what to think about again, and where the card is."""
    told = [f"  {each['warning']}: {each['message']}" for each in tree["warnings"]]
    told += [f"  {each['message']}" for each in tree["missing"]]
    return "\n".join([*told, f"Wrote {out}: card.pdf, results-sheet.pdf, prepare.json"])


def _means(name: str) -> str:
    """Return the command that tells what a practical means, quoted as every shell takes it."""
    return f"What it means: labmark check --practical {_quoted(name)}"


def _quoted(name: str) -> str:
    return f'"{name}"' if " " in name else name


def _in_short(name: str, practical: Practical) -> list[str]:
    """Return what is asked, the expected titre and the equations, in two lines or three."""
    titres = sorted(expected_titres(practical).values())
    told = " to ".join(f"{each}" for each in dict.fromkeys((titres[0], titres[-1]))) + " cm³" if titres else ""
    told = told or ("own numbers" if practical.own else "no reference")
    first, *others = dict.fromkeys(each.shown for each in practical.equations)
    lines = [f"  {told:>18}   {first}", *(f"{'':<23}{each}" for each in others)]
    return [f"{click.style(f'{name:<36}', bold=True)} {asked(practical)}", *lines]


def meaning(parts: Mapping[str, Sequence[str]]) -> str:
    """Return what a practical means, within the width of a terminal."""
    titles = [click.style(textwrap.fill(each, WIDTH, subsequent_indent="  "), bold=True) for each in parts]
    told = zip(titles, parts.values(), strict=True)
    return "\n\n".join("\n".join([title, *map(_wrapped, lines)]) for title, lines in told)


def _wrapped(line: str) -> str:
    if len(line) <= WIDTH - 2:
        return f"  {line}"
    return textwrap.fill(line, WIDTH, initial_indent="  ", subsequent_indent="     ")
