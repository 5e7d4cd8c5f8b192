"""The list of messages that a catalogue of a language holds: made from the code, its tables and its templates.

    python -m tests.catalogue               write labmark/languages/labmark.pot again
    python -m tests.catalogue --left de     print what of tests/languages/*.txt is left in English, sentence by sentence
    python -m tests.catalogue --update de   bring labmark/languages/de.po up to labmark.pot

A message is a sentence, or a part of one. Its holes are named after what fills them in the code; what fills a hole is a
message too, a number, a formula or what somebody typed.
"""

from __future__ import annotations

import argparse
import ast
import io
import re
import tomllib
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po, write_po

from labmark.outputs.forms import LABEL, indicator_alone
from labmark.outputs.language import HOLE, NEUTRAL, PRACTICALS, SENTENCE, WORD, Language, language
from labmark.places import language_file, practicals_folder, templates_folder
from labmark.practical.equation import EquationError, parse_formula

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "labmark"
TEMPLATE = language_file("labmark").with_suffix(".pot")
CORPUS = Path(__file__).resolve().parent / "languages"
MOST = 48
"""Wordings of one f-string that are told apart."""
FOR_PEOPLE = (
    "read/cells",
    "read/own_values",
    "read/remarks",
    "read/decimal_marks",
    "read/tables",
    "read/runs",
    "read/layouts/long",
    "read/layouts/sheet",
    "read/layouts/wide",
    "judge/",
    "diagnose/",
    "practical/",
    "formula",
    "facts",
    "exact",
    "words",
    "tree",
    "several_tree",
    "outputs/",
    "lesson/",
    "decisions/",
    "records",
    "assessed",
    "analyse/",
    "cohort/technique",
)
"""Modules whose prose students and teachers read on paper; what only the terminal says stays English."""
NOT = (
    "practical/mistakes",
    "practical/fits",
    "practical/load",
    "practical/file",
    "practical/model",
    "practical/several",
    "practical/rows",
    "practical/equation",
    "practical/record",
    "practical/expressed",
    "practical/back",
    "practical/ions",
    "practical/standardised",
    "outputs/press",
    "decisions/memory",
    "practical/scheme",
    "diagnose/hypotheses",
    "outputs/folder",
    "outputs/fit",
    "outputs/table",
    "outputs/language",
    "outputs/forms",
    "outputs/archive",
    "outputs/carried",
    "lesson/roll",
    "lesson/class_sheet",
    "lesson/constants",
    "decisions/applied",
    "decisions/read",
    "decisions/before",
    "decisions/model",
)
TABLES = {
    "findings.toml": ("title", "advice"),
    "diagnose/hypotheses.toml": ("says", "beside", "tell", "check", "looks_like", "name"),
    "diagnose/slips.toml": ("cause", "phrase", "tell"),
    "practical/hazards.toml": ("name", "says"),
    "lesson/solutions.toml": ("name", "diluting", "note"),
    "lesson/indicators.toml": ("name",),
    "lesson/acids.toml": ("name",),
}
SKIPPED_CALLS = (
    "Problem",
    "InputError",
    "ValueError",
    "PydanticCustomError",
    "compile",
    "getattr",
    "KeyError",
    "TypeError",
    "removeprefix",
    "removesuffix",
    "startswith",
    "endswith",
    "partition",
    "get",
    "pop",
    "encode",
    "option",
    "argument",
)
OF_PROBLEMS = {"what", "do", "remedy"}
"""Names in the reading of class sheets for what is wrong and what to do about it, which the terminal alone says."""
Part = str | tuple[str]
"""Fixed words, or the name of a hole."""


# --- from the code ---------------------------------------------------------------------------------------------------


def named(node: ast.expr) -> str:
    """Return a name for what fills a hole."""
    if isinstance(node, ast.Name):
        return node.id
    if isinstance(node, ast.Attribute):
        return node.attr
    if isinstance(node, ast.Subscript):
        inner = node.slice
        return inner.value if isinstance(inner, ast.Constant) and isinstance(inner.value, str) else named(node.value)
    if isinstance(node, ast.Call):
        return next((name for name in map(named, node.args) if name != "x"), named(node.func))
    if isinstance(node, ast.BinOp):
        return named(node.left)
    if isinstance(node, ast.IfExp):
        return named(node.body)
    return "x"


def wordings(node: ast.expr, known: dict[str, ast.expr]) -> list[list[Part]]:
    """Return each way in which an expression may be worded."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        parts = re.split(r"\{(\w*)\}", node.value)
        return [[part if place % 2 == 0 else (part or "held",) for place, part in enumerate(parts)]]
    if isinstance(node, ast.JoinedStr):
        found: list[list[Part]] = [[]]
        for value in node.values:
            inner = value.value if isinstance(value, ast.FormattedValue) else value
            found = [[*one, *more] for one in found for more in wordings(inner, known)][:MOST]
        return found
    if isinstance(node, ast.IfExp):
        return wordings(node.body, known) + wordings(node.orelse, known)
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        return [[*a, *b] for a in wordings(node.left, known) for b in wordings(node.right, known)][:MOST]
    if isinstance(node, ast.BoolOp) and isinstance(node.op, ast.Or):
        return [one for value in node.values for one in wordings(value, known)]
    if isinstance(node, ast.Call) and named(node.func) == "either":
        return [one for value in node.args if isinstance(value, ast.expr) for one in wordings(value, known)]
    if isinstance(node, ast.Call) and named(node.func) in ("begun", "capitalize", "counted"):
        inner = node.args[0] if node.args else node.func.value if isinstance(node.func, ast.Attribute) else node
        if named(node.func) == "counted" and len(node.args) == 2:
            one = wordings(node.args[1], known)[0]
            if all(isinstance(part, str) for part in one):
                thing, number = "".join(map(str, one)), (named(node.args[0]),)
                return [[number, f" {thing}"], [number, f" {thing}s"]]
        if isinstance(inner, ast.Name) and inner.id in known:
            return wordings(inner, known)
    if isinstance(node, ast.Name) and node.id in known:
        return wordings(known[node.id], known)
    name = re.sub(r"\W", "_", named(node)).strip("_").lower() or "x"
    return [[(name,)]]


def _targets(node: ast.Assign) -> Iterator[ast.expr]:
    """Yield the names that are assigned to, those of several at once too."""
    for target in node.targets:
        yield from target.elts if isinstance(target, ast.Tuple) else (target,)


def in_code(path: Path) -> Iterator[tuple[str, int]]:
    """Yield every wording of the strings of a module, with its line."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    shared = ast.parse((PACKAGE / "words.py").read_text(encoding="utf-8"))
    known = {
        target.id: node.value
        for body in (shared, tree)
        for node in body.body
        if isinstance(node, ast.Assign) and isinstance(node.value, ast.Call | ast.Constant | ast.JoinedStr)
        for target in node.targets
        if isinstance(target, ast.Name)
    }
    skipped: set[int] = set()
    for node in ast.walk(tree):
        drop: Iterable[ast.AST] = ()
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            drop = (node.value,)
        elif (
            isinstance(node, ast.Raise | ast.Assert)
            or (isinstance(node, ast.Call) and named(node.func) in SKIPPED_CALLS)
            or isinstance(node, ast.Compare)
        ):
            drop = ast.walk(node)
        elif isinstance(node, ast.Subscript):
            drop = ast.walk(node.slice)
        elif isinstance(node, ast.Assign) and "read" in path.parts and {*map(named, _targets(node))} & OF_PROBLEMS:
            drop = ast.walk(node.value)
        skipped |= {id(each) for each in drop}

    def visit(node: ast.AST, top: bool) -> Iterator[tuple[str, int]]:
        if id(node) in skipped:
            return
        text = isinstance(node, ast.JoinedStr | ast.IfExp) or (
            isinstance(node, ast.Constant) and isinstance(node.value, str)
        )
        text = text or (isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add))
        if text and top:
            for one in wordings(node, known):  # type: ignore[arg-type]
                yield as_message(one), node.lineno  # type: ignore[attr-defined]
        for child in ast.iter_child_nodes(node):
            # What fills a hole by way of a call is worded by itself: what a string is part of is not.
            yield from visit(
                child, not text or isinstance(child, ast.FormattedValue) or isinstance(node, ast.FormattedValue)
            )

    yield from visit(tree, True)


def as_message(parts: Iterable[Part]) -> str:
    """Return a wording as a message; holes beside each other are one."""
    names: dict[str, int] = {}
    text, hole = "", False
    for part in parts:
        if isinstance(part, str):
            text, hole = text + part, hole and not part
        elif not hole:
            names[part[0]] = names.get(part[0], 0) + 1
            text += f"{{{part[0]}{names[part[0]] if names[part[0]] > 1 else ''}}}"
            hole = True
    return text


def in_tables() -> Iterator[tuple[str, str]]:
    """Yield every text for people in the tables of data, with where it stands."""

    def visit(data: Any, keys: tuple[str, ...]) -> Iterator[str]:
        if isinstance(data, dict):
            for key, value in data.items():
                if key in keys and isinstance(value, str):
                    yield value
                elif isinstance(value, dict | list):
                    yield from visit(value, tuple(value) if key == "tell" and isinstance(value, dict) else keys)
        elif isinstance(data, list):
            for each in data:
                yield from visit(each, keys)

    for name, keys in TABLES.items():
        for text in visit(tomllib.loads((PACKAGE / name).read_text(encoding="utf-8")), keys):
            yield text, f"labmark/{name}"


WORDED = frozenset(("title", "indicator", "cautions", "solution", "name", "factor_name"))
"""Keys of a practical under which there are words."""


def in_practicals() -> Iterator[tuple[str, str]]:
    """Yield every text for people in the practicals that ship, with where it stands; a formula is none."""
    for path in sorted(practicals_folder().glob("*.toml")):
        for key, text in _worded(tomllib.loads(path.read_text(encoding="utf-8"))):
            for each in dict.fromkeys((text, indicator_alone(text)) if key == "indicator" else (text,)):
                yield each, f"templates/practicals/{path.name}"


def _worded(table: Any, key: str = "") -> Iterator[tuple[str, str]]:
    if isinstance(table, dict):
        for name, inner in table.items():
            yield from _worded(inner, name)
    elif isinstance(table, list):
        for each in table:
            yield from _worded(each, key)
    elif key in WORDED and not _is_formula(table):
        yield key, table


def _is_formula(text: str) -> bool:
    try:
        parse_formula(text)
    except EquationError:
        return False
    return True


def in_templates() -> Iterator[tuple[str, str]]:
    """Yield every label of the templates, with where it stands."""
    for path in sorted(templates_folder().glob("*.typ")):
        for label in LABEL.findall(path.read_text(encoding="utf-8")):
            yield label, f"templates/{path.name}"
    for path in sorted(templates_folder().glob("report*.html.j2")):
        for text in in_page(path.read_text(encoding="utf-8")):
            yield text, f"templates/{path.name}"


def in_page(template: str) -> Iterator[str]:
    """Yield every text of a template of a page, and every label of its parts, with holes for what is put in."""
    shown = re.sub(r"\{\{(.*?)\}\}", lambda found: _hole(found[1]), template, flags=re.DOTALL)
    quoted = re.findall(
        r'"([^"{}\n]*[a-z]{2} [^"{}\n]*|[A-Z][a-z]+,?[^"{}\n]*)"',
        " ".join(re.findall(r"\{[{%].*?[%}]\}", template, re.DOTALL)),
    )
    labels = re.findall(r'(?:alt|title|placeholder|aria-label|data-shown|data-sorted|data-order)="([^"]*)"', shown)
    for text in (*quoted, *labels, *re.split(r"<[^>]*>|\{%.*?%\}", re.sub(r"\{#.*?#\}", "", shown, flags=re.DOTALL))):
        parts = re.split(r"\{(\w+)\}", " ".join(text.split()))
        yield as_message((part,) if place % 2 else part for place, part in enumerate(parts))


def _hole(expression: str) -> str:
    """Return the hole of an expression of a template, named after the last word of what it takes."""
    words = re.findall(r"[a-z]\w*", expression.partition("|")[0])
    return f"{{{words[-1]}}}" if words else "{held}"


# --- messages --------------------------------------------------------------------------------------------------------

ENDS = " .:;,–·()"


def sentences(text: str) -> Iterator[str]:
    """Yield the sentences of a message, without what joins them to others."""
    for line in text.split("\n"):
        for each in SENTENCE.split(line):
            for part in re.split(r"(?<=\}) (?=[A-Z])", each):
                yield balanced(part.strip(" .:;,·"))


def balanced(text: str) -> str:
    """Return a text without brackets that are not closed, or that go round all of it."""
    if text.startswith("(") and (text.count("(") != text.count(")") or text.endswith(")")):
        text = text[1:].removesuffix(")") if text.count("(") == text.count(")") else text[1:]
    if text.endswith(")") and text.count("(") < text.count(")"):
        text = text[:-1]
    return text.strip(" .:;,·")


def is_prose(text: str) -> bool:
    """Return whether a text has two words at least, as no key and no name in the code has."""
    if "'none'" in text or "sha256" in text:
        return False
    words = WORD.findall(HOLE.sub(" ", text))
    plain = HOLE.sub("", text)
    return (
        (len(words) > 1 or (bool(words) and "{" in text))
        and " " in text.strip()
        and not re.search(r"[\w}]\.[\w{]|_|\\|\[\[|=>|->|\w=\w|^[,;]", plain)
    )


def all_texts() -> Iterator[tuple[str, str, bool]]:
    """Yield (text, where it stands, whether it is certainly for people)."""
    for mark in MARKS:
        yield mark, "tests/catalogue.py", True
    for text in TOGETHER.read_text(encoding="utf-8").splitlines():
        yield text, "tests/languages/together", True
    for text, where in in_templates():
        yield text, where, True
    for text, where in (*in_practicals(), *in_tables()):
        yield text, where, True
    for path in sorted(PACKAGE.rglob("*.py")):
        name = path.relative_to(PACKAGE).as_posix()
        people = name.startswith(FOR_PEOPLE) and not name.startswith(NOT)
        for text, _ in in_code(path):
            yield text, f"labmark/{name}", people


NOT_FOR_PEOPLE = CORPUS / "apart"
"""Texts of the code that look like messages and are none: no words for people, or pieces of what stands in `TOGETHER`."""
MARKS = ("“{quoted}”", ": ", "; ", ":", ";", "?", "!")
"""Marks that are set otherwise in some languages, and what joins two parts of a sentence."""
FUNCTION = re.compile(
    "a|an|and|are|as|at|be|by|for|from|has|have|in|is|it|its|no|not|of|on|or|than|that|the|to|was|were|with|you|your"
)
"""Words that say nothing without others: a message of these alone would part every sentence."""
GLUED = re.compile(r"[A-Za-z]\{|\}[A-Za-z]")


TOGETHER = CORPUS / "together"
"""Messages of parts that the code puts together word by word, where a language must see them whole: one a line."""


def messages() -> dict[str, bool]:
    """Return each possible message, and whether it is certainly one."""
    found: dict[str, bool] = {}
    apart = set(NOT_FOR_PEOPLE.read_text(encoding="utf-8").splitlines())
    for text, where, people in all_texts():
        if text in MARKS:
            found[text] = True
            continue
        # What may or may not follow a word without a space is a message of its own.
        for each in sentences(re.sub(r"(?<=[A-Za-z.])\{\w+\}(?=[ .,;:]|$)", "", text)):
            if not WORD.search(HOLE.sub(" ", each)) or GLUED.search(each):
                continue
            if NEUTRAL.fullmatch(HOLE.sub(" ", each)) or each in apart:
                continue
            words = [word.casefold() for word in WORD.findall(HOLE.sub(" ", each))]
            bare = len(words) < 2 and all(map(FUNCTION.fullmatch, words))
            if bare and not where.startswith(("tests", "templates")):
                continue
            sure = people and (is_prose(each) or where.endswith((".typ", "together", ".toml")))
            found[each] = found.get(each, False) or sure
    return found


def corpus() -> dict[str, list[str]]:
    """Return the sentences that classes of all kinds are told, by the file that they stand in: sheet, report, lesson."""
    return {path.stem: path.read_text(encoding="utf-8").splitlines() for path in sorted(CORPUS.glob("*.txt"))}


def used_in(sentences: Iterable[str], known: list[str]) -> tuple[set[str], list[str]]:
    """Return the messages that sentences are made of, and the sentences that these do not suffice for."""
    whole = [
        (each, f"⟦{place}:{''.join(HOLE.findall(each) and [f'{{{n}}}' for n in HOLE.findall(each)])}⟧")
        for place, each in enumerate(known)
    ]
    asked = Language(whole)
    said = " ".join(asked(each) for each in sentences)
    return {known[int(place)] for place in re.findall(r"⟦(\d+):", said)}, list(asked.left.values())


def template() -> Catalog:
    """Return the list of messages: those of the sheet first, then the others, each group in the order of the alphabet."""
    found = messages()
    made = Catalog(project="labmark", fuzzy=False, header_comment=HEAD)
    where = {name: used_in(lines, list(found))[0] for name, lines in corpus().items()}
    where |= {"marks": set(MARKS), PRACTICALS: {text for text, _ in in_practicals()}}
    for name in ("marks", PRACTICALS, "sheet", "workbook", "lesson", "report", "other"):
        for each in sorted(found if name == "other" else where[name]):
            if each not in made and (found[each] or name != "other"):
                made.add(each, auto_comments=[name])
    return made


HEAD = """# Messages of labmark: sentences and parts of sentences that students and teachers read on paper.
# What stands in braces is a hole; numbers stand for any number. See DEVELOPERS.md, "a language".
"""
DROPPED = (
    rb'"(POT-Creation-Date|PO-Revision-Date|Generated-By|Last-Translator|Report-Msgid|Language-Team|Project-Id)[^"]*"\n'
)


def written(catalogue: Catalog) -> bytes:
    """Return a catalogue as the bytes of its file, the same for the same messages: without dates, and without places,
    which would change wherever code is moved."""
    file = io.BytesIO()
    write_po(file, catalogue, width=110, no_location=True, omit_header=False, sort_output=False, ignore_obsolete=True)
    return re.sub(DROPPED, b"", file.getvalue())


def main() -> None:
    """Do what the head of this file says."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--left", metavar="LANGUAGE")
    parser.add_argument("--update", metavar="LANGUAGE")
    options = parser.parse_args()
    if options.left:
        asked = language(options.left)
        for lines in corpus().values():
            for line in lines:
                asked(line)
        print(*asked.left.values(), f"{len(asked.left)} of {sum(map(len, corpus().values()))} left", sep="\n")
    elif options.update:
        path = language_file(options.update)
        catalogue = Catalog(locale=options.update, header_comment=HEAD)
        if path.exists():
            with path.open("rb") as file:
                catalogue = read_po(file, locale=options.update)
        own = {each.id: each for each in catalogue if each.id and each.string}
        catalogue.update(template(), no_fuzzy_matching=True)
        for each in own.values():
            if each.id not in catalogue:  # a message that this language alone has
                catalogue[each.id] = each
        path.write_bytes(written(catalogue))
    else:
        TEMPLATE.write_bytes(written(template()))


if __name__ == "__main__":
    main()
