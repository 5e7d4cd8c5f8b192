"""Other languages: every catalogue is whole, and nothing of labmark's own is left in English on a page."""

from __future__ import annotations

import io
import json
import re
from decimal import Decimal
from functools import cache
from itertools import permutations, product
from typing import Any

import pytest
from babel.messages.pofile import read_po
from openpyxl import Workbook, load_workbook

from labmark.diagnose.hypotheses import HYPOTHESES
from labmark.lesson.class_sheet import write_class_sheet
from labmark.lesson.columns import OFFERED, TO_CORRECT
from labmark.outputs.chart import Chart
from labmark.outputs.evidence import plain
from labmark.outputs.forms import Forms, forms_of, names_in, words_of
from labmark.outputs.language import HOLE, Language, Typed, language
from labmark.outputs.report import report
from labmark.outputs.sheet_lines import titre_line
from labmark.outputs.sheets import class_data, student_data
from labmark.pipeline import read, tree_of
from labmark.places import language_file, languages, practicals_folder
from labmark.practical.hazards import cautions_of
from labmark.practical.kinds import formula_of
from labmark.practicals import named, shipped
from labmark.tree import practical_tree
from labmark.words import begun
from tests import pin
from tests.catalogue import TEMPLATE, corpus, in_practicals
from tests.classes import sample
from tests.decided import Marked
from tests.samples import classes, files
from tests.seeds import few_quick
from tests.sheet_pages import student_sheets

SHIPPED = languages()[1:]
ENGLISH = re.compile(
    r"\b(the|of|and|your|you|are|was|were|with|from|which|this|that|these|not|for|than|each|run|runs|reading|readings"
    r"|mean|titre|titres|student|students|between|after|before|because|without|class|mark|marks)\b",
    re.IGNORECASE,
)
"""Words that a text of labmark's in English can hardly do without; none is a word of another language that ships."""
OURS_TOO = {"fr": {"titre", "marks", "class", "mark"}, "es": set(), "de": {"was", "in"}}
"""Those that are words of a language as well."""


@cache
def catalogue(name: str) -> Any:
    file = TEMPLATE if name == "labmark" else language_file(name)
    return read_po(io.BytesIO(file.read_bytes()), locale=None if name == "labmark" else name)


def messages(name: str) -> dict[Any, Any]:
    return {each.id: each for each in catalogue(name) if each.id}


def told(name: str, file: str = "drain-cleaner.xlsx") -> Any:
    """Return a sample class whose practical asks for a language."""
    return in_language(sample(file), name)


def in_language(tree: Any, name: str) -> Any:
    """Return the record tree of a class whose practical asks for a language."""
    return {**tree, "practical": {**tree["practical"], "sheet": {**tree["practical"]["sheet"], "language": name}}}


def english_in(texts: Any, name: str, typed: set[str]) -> list[str]:
    """Return the texts with an English word that nobody typed."""
    kept = Typed(typed)

    def bare(text: str) -> str:
        for begin, end in reversed([*kept.spans(text)]):
            text = text[:begin] + text[end:]
        return re.sub(r"[„“«].*?[“”»]|'[^']*'|[\w-]+\.(?:xlsx|csv|json|svg|png)", "", text)

    found = ((text, {word.lower() for word in ENGLISH.findall(bare(text))}) for text in texts)
    return [text for text, words in found if words - OURS_TOO[name]]


def texts_of(data: Any) -> list[str]:
    if isinstance(data, str):
        return [data]
    if isinstance(data, dict):
        return [text for key, each in data.items() if key not in CODED for text in texts_of(each)]
    return [text for each in data for text in texts_of(each)] if isinstance(data, list | tuple) else []


CODED = {"state", "parts", "paper", "use", "uses", "side", "strip", "name", "comment", "school"}


def test_english_asks_for_nothing():
    text = "Run 2 went past the endpoint: 25.70 cm³."
    assert Forms()(text) is text


@pytest.mark.parametrize("name", SHIPPED)
def test_every_message_is_there(name):
    there, marks = messages(name), {"!", ":", ": ", ";", "; ", "?"}
    missing = [key for key in messages("labmark") if key not in marks and not (key in there and there[key].string)]
    assert missing == []


@pytest.mark.parametrize("name", SHIPPED)
def test_every_hole_is_filled_and_none_is_made_up(name):
    def holes(text: Any) -> set[str]:
        return set(HOLE.findall(text if isinstance(text, str) else " ".join(text)))

    assert [each.id for each in messages(name).values() if each.string and holes(each.string) - holes(each.id)] == []
    lost = [each.id for each in messages(name).values() if each.string and holes(each.id) - holes(each.string)]
    assert [each for each in lost if each not in UNSAID] == []


@pytest.mark.parametrize("name", SHIPPED)
def test_every_text_of_a_practical_that_ships_is_known_for_one(name):
    assert {text for text, _ in in_practicals()} == language(name).of_practicals


@pytest.mark.parametrize("name", SHIPPED)
@pytest.mark.parametrize("practical", shipped())
def test_nothing_of_the_cautions_and_the_title_of_a_practical_that_ships_stays_english(name, practical):
    file = named(practical).file
    say, before = Forms(language=name, names=frozenset(names_in(file.model_dump()))), set(language(name).left)
    texts = [file.title, *file.cautions, *cautions_of(named(practical))]
    assert [text for text in texts if say(text) == text] == []
    assert set(language(name).left) <= before


@pytest.mark.parametrize("name", SHIPPED)
def test_cautions_and_title_of_a_teacher_s_own_stay(name):
    tree = told(name)
    own = {"title": "Acid in our limescale remover", "cautions": ["citric acid: wear the blue goggles", "goggles on"]}
    say = words_of({**tree, "practical": {**tree["practical"], **own}})
    for text in (own["title"], *own["cautions"], "Goggles on"):
        assert say(text) == text


UNSAID = {"the closest {what}: no {at_least} agree"}
"""Messages of which a language may leave something out, as it is said beside it."""


@cache
def asked_of(name: str) -> Language:
    """Return a language of its own to ask, which no other test asks."""
    return Language(language(name).messages, language(name).plural)


def unsaid(name: str, lines: list[str]) -> list[str]:
    """Return the sentences that a language leaves in English."""
    asked = asked_of(name)
    before = set(asked.left)
    for line in lines:
        asked(line)
    return [text for key, text in asked.left.items() if key not in before]


@pytest.mark.parametrize(("name", "kind"), few_quick(product(SHIPPED, ["sheet", "workbook", "lesson", "report"]), 10))
def test_every_sentence_that_classes_are_told_can_be_said(name, kind):
    assert unsaid(name, corpus()[kind]) == []


@pytest.mark.parametrize(
    ("file", "name"), few_quick(product(["drain-cleaner.xlsx", "limescale-remover.csv", "moss-killer.csv"], SHIPPED), 9)
)
def test_no_english_is_left_on_a_sheet(name, file):
    tree = told(name, file)
    say, group = forms_of(tree), class_data(tree)
    shown = say.all(group), *(say.all(student_data(tree, place, group)) for place in range(len(tree["students"])))
    assert english_in(texts_of(list(shown)), name, set(say.names)) == []


@pytest.mark.parametrize("name", few_quick(SHIPPED, 3))
def test_no_english_is_left_on_the_report(name):
    tree = told(name)
    page = report(tree, Chart(b"", b"", ""))
    shown = re.sub(r"<script.*?</script>|<style.*?</style>", "", page, flags=re.DOTALL)
    remarks = {text for _, text in REMARKS}
    typed = set(words_of(tree).names) | remarks
    labels = re.findall(r'(?:alt|aria-label|data-shown|data-sorted|data-order)="([^"]*)"', shown)
    assert f'<html lang="{name}">' in page
    assert english_in([*re.split(r"<[^>]*>", shown), *labels], name, typed) == []


REMARKS = (("Y3", "overshot run 2"), ("Y25", "first time with a burette"))
"""What students wrote beside their readings."""


@pytest.mark.slow
@pytest.mark.parametrize("name", SHIPPED)
def test_every_sheet_is_one_page(name):
    from pypdf import PdfReader

    assert {len(PdfReader(io.BytesIO(pdf)).pages) for _, pdf in student_sheets(told(name))} == {1}


def test_what_somebody_typed_stays():
    said = Language([("the mean", "das Mittel"), ("run {n}", "Durchgang {n}"), ("{a} of {b}", "{a} von {b}")])
    assert (
        said("the mean of Grace and her run 2", Typed(["Grace and her run 2"])) == "das Mittel von Grace and her run 2"
    )
    assert said("Run 3") == "Durchgang 3"


def test_a_numeral_of_a_message_is_not_taken_for_all_that_stands_behind_it():
    said = Language([("manganate(VII)", "permanganate"), ("harmful", "nocif")])
    assert said("manganate(VII), 0.02 mol: harmful") == "permanganate, 0.02 mol: nocif"


def test_the_message_that_says_most_is_taken():
    said = Language(
        [("{what} was {how}", "{what} war {how}"), ("the mean was {how}", "das Mittel war {how}"), ("wrong", "falsch")]
    )
    assert said("The mean was wrong.") == "Das Mittel war falsch."


def test_a_capital_at_the_beginning_does_not_hide_the_message_that_says_most():
    less = [
        ("{run} titre", "Verbrauch {run}"),
        ("{a} in the {b}", "{a} im {b}"),
        ("amount", "Menge"),
        ("mean", "Mittel"),
    ]
    said = Language([*less, ("amount in the mean titre", "Menge im mittleren Verbrauch")])
    assert said("Amount in the mean titre.") == "Menge im mittleren Verbrauch."


@pytest.mark.parametrize(
    ("name", "sentence", "said"),
    [
        ("es", "Amount of NaOH in the mean titre", "Cantidad de NaOH en el volumen medio"),
        ("fr", "2.8 % of runs", "2.8 % des essais"),
        ("de", "Make 168 cm³ of the original up to 4200 cm³.", "168 cm³ des Originals auf 4200 cm³ auffüllen."),
        (
            "de",
            "The result lies 0.0037 mol/dm³ below the reference, which is more than the combined uncertainty of ± 0.00096 "
            "mol/dm³: glassware and reading alone do not explain it.",
            "Das Ergebnis liegt 0.0037 mol/dm³ unter dem Referenzwert, mehr als die kombinierte Unsicherheit von ± 0.00096 "
            "mol/dm³: Glasgeräte und Ablesen allein erklären es nicht.",
        ),
    ],
)
def test_what_the_report_says_is_in_the_right_case(name, sentence, said):
    assert language(name)(sentence) == said


@pytest.mark.parametrize("name", SHIPPED)
def test_what_titres_cannot_tell_apart_is_named_in_the_language_whichever_comes_first(name):
    said, beside = language(name), sorted({each.beside for each in HYPOTHESES if each.beside})
    for one, other in permutations(beside, 2):
        whole = said(f"The titres alone cannot tell this from {one} or {other}.")
        assert said(one) in whole
        assert said(other) in whole


def test_a_letter_in_a_message_that_begins_with_an_article_is_still_one():
    said = Language([("A pipette of class {letter}", "Eine Pipette der Klasse {letter}")])
    assert said("a pipette of class A") == "Eine Pipette der Klasse A"


def test_of_messages_that_say_as_much_the_first_in_the_catalogue_is_taken():
    words = [("percent", "Prozent"), ("mass", "Masse"), ("mass of acid", "Säuremasse"), ("acid", "Säure")]
    words += [("percent by mass", "Massenprozent")]
    of, by = ("{a} of {b}", "{a} von {b}"), ("{a} by {b}", "{a} je {b}")
    assert Language([*words, of, by])("percent by mass of acid") == "Massenprozent von Säure"
    assert Language([*words, by, of])("percent by mass of acid") == "Prozent je Säuremasse"


def test_two_threads_that_ask_for_the_same_words_are_both_told():
    class Interrupted(Language):
        other: str | None = None

        def _found(self, text):
            if self.other is None:
                self.other = ""
                self.other = self(text)  # as another thread asks before this one has found it
            return super()._found(text)

    said = Interrupted([("the mean", "das Mittel")])
    assert (said("The mean."), said.other) == ("Das Mittel.", "Das Mittel.")


def test_what_has_no_message_stays_whole():
    said = Language([("the mean", "das Mittel")])
    assert said("The mean is unheard of.") == "The mean is unheard of."
    assert [*said.left.values()] == ["The mean is unheard of."]


@pytest.mark.parametrize("name", SHIPPED)
@pytest.mark.parametrize(
    "sentence",
    [
        "The cell holds “formula never calculated”, which cannot be read as a number.",
        "Written titre, mean and result cannot be read",
        "K6 holds “202 mg/x”, which cannot be read as a number.",
        "Run 1: the initial reading says “0. 00”, which has a space between its figures, likely 0.00; the run is left "
        "out until it is corrected.",
        "Mass holds “abc”, which cannot be used as it stands: without it the result cannot be worked out.",
        "Mass is 0.000, which cannot be: without it the result cannot be worked out.",
        "Mass of run 2 is missing: without it this run gives no result.",
        "Mass is 0.142 g, far smaller than everybody else’s: it is used as written.",
        "Two of your results agree. Their mean is 98.0 %; the reference 98.0 is the same.",
        "Only one of your runs gives a result. That is 98.0 %; the reference 98.0 is the same.",
        "Three titres agree; they are 0.05 cm³ apart; the limit is 0.10 cm³.",
        "Four results agree; they are 0.09 % apart; the limit is 0.5 %.",
        "Three results agree; they are 0.11 % apart, 0.03 cm³ of titre: within 0.10 cm³.",
        "The two closest results are 0.11 % apart, 0.03 cm³ of titre: within 0.10 cm³.",
        "The three closest results are 3.62 % apart, 0.93 cm³ of titre, more than 0.20 cm³.",
        "Only two accurate runs give a result, and three must agree.",
        "Taking the molar mass of NaOH gives 0.0500 ÷ 2 × 39.997 = 37.2 %, or 37.3 with values rounded on the way, "
        "which is what you wrote.",
        "Taking the molar mass of NaOH gives 0.0500 ÷ 2 × 39.997 = 37.2 %, or 37.3 with values rounded on the way, "
        "which is what the student wrote.",
        "In run 3 a reading was possibly out by a whole number of cm³: 25.30 cm³ is 0.93 cm³ above what the other runs "
        "call for with its own numbers.",
        "25.30 cm³ is 0.93 cm³ below what the other runs call for with its own numbers.",
        "What the uncertainty of NaOH is made of",
        "written as '520 mg', taken as 520; % is asked for, so look at the unit",
        "I3: written as '0.0651 g', taken as 65.1",
        "You wrote 21.60 cm³. That is the mean of the rough and run 3: (21.80 + 21.35) ÷ 2 = 21.58 cm³, or 21.60 to the "
        "nearest 0.05. It may be a coincidence.",
        "class figures, not a student",
        "The blank less the mean of 23.55, 23.60 is 13.925 cm³; 13.93 is right.",
        "which of the results this is cannot be told",
        "not understood and not used: results of which it cannot be told which is which; head them Result K and Result V",
    ],
)
def test_what_quotes_or_stands_for_a_result_is_said_whole(name, sentence):
    assert unsaid(name, [sentence]) == []
    assert asked_of(name)(sentence) != sentence


def test_what_is_quoted_keeps_its_decimal_mark_whatever_the_quotation_marks():
    for name in ("en", *SHIPPED):
        said = Forms(decimal=",", language=name)("N5 holds “0.1O2”, which cannot be read as a number.")
        assert "0.1O2" in said
        assert "0,1" not in said


def test_what_is_quoted_is_left_whole_with_what_somebody_typed_in_it():
    said = language("fr")("Mean titre total: 'Mean titre total' (column R).", Typed(["total"]))
    assert said == "Volume moyen total\u00a0: 'Mean titre total' (colonne R)."


@pytest.mark.slow
def test_nothing_that_classes_of_every_kind_are_told_stays_english(monkeypatch):
    """Students who did odd things, classes that are off as a whole, every practical that ships."""
    monkeypatch.setattr(pin, "SEEDS", (9,))
    for module in (classes, files):  # what the pinned classes set
        monkeypatch.setattr(module, "SEED", module.SEED)
    left = {}
    for which, tree in pin.trees():
        found = [each["message"] for one in (tree["class"], *tree["students"]) for each in one["findings"]]
        marks = [(mark["reason"], mark.get("told", "")) for one in tree["students"] for mark in one["marks"]]
        said = texts_of([found, marks, [one["feedback"] for one in tree["students"]]])
        for name in SHIPPED:
            say = words_of(in_language(tree, name))
            left |= {(which, name, text): "" for text in english_in(map(say, said), name, set(say.names))}
    assert [*left] == []


def test_a_number_chooses_the_plural_of_the_language():
    said = Language([(("{n} mark", "{n} marks"), ("{n} point", "{n} points"))], lambda number: int(number > 1))
    assert [said(text) for text in ("1 mark", "0 marks", "2 marks")] == ["1 point", "0 point", "2 points"]


PRACTICALS = (
    *("drain-cleaner", "eggshells-own-masses", "calcium-and-magnesium"),
    *("hydroxide-and-carbonate", "standardise-by-weighing"),
)


@pytest.mark.parametrize(
    ("practical", "name"),
    [
        pytest.param(practical, name, marks=pytest.mark.slow if place or number else ())
        for place, practical in enumerate(PRACTICALS)
        for number, name in enumerate(SHIPPED)
    ],
)
def test_a_blank_class_sheet_is_read_back(name, practical, tmp_path):
    given = tmp_path / "own.toml"
    text = (practicals_folder() / f"{practical}.toml").read_text(encoding="utf-8")
    given.write_text(f'{text}\n[sheet]\nlanguage = "{name}"\n', encoding="utf-8")
    (tmp_path / "names.csv").write_text("Student,Bench\nAmara K,1\nBao T,2\n", encoding="utf-8")
    write_class_sheet(str(given), tmp_path / "names.csv", tmp_path / "class.xlsx", None)
    book = load_workbook(tmp_path / "class.xlsx")
    _fill(book["Results"])
    book.save(tmp_path / "class.xlsx")
    tree = tree_of(*read(tmp_path / "class.xlsx", None, ()))
    runs = [run for one in tree["students"] for run in one["runs"]]
    assert len(tree["students"]) == 2
    assert runs
    assert all(run["initial"] is not None for run in runs)
    assert tree["cells"]["rejected"] == 0
    assert [note for one in tree["students"] for note in one["notes"]] == []


def test_a_column_of_the_class_sheet_is_as_wide_in_every_language(tmp_path):
    text = (practicals_folder() / "vinegar.toml").read_text(encoding="utf-8")
    (tmp_path / "names.csv").write_text("Student,Email\nAmara K,a@example.org\n", encoding="utf-8")
    widths = set()
    for name in ("en", "de"):
        (tmp_path / "own.toml").write_text(f'{text}\n[sheet]\nlanguage = "{name}"\n', encoding="utf-8")
        write_class_sheet(str(tmp_path / "own.toml"), tmp_path / "names.csv", tmp_path / f"{name}.xlsx", None)
        columns = load_workbook(tmp_path / f"{name}.xlsx")["Results"].column_dimensions.items()
        widths.add(tuple((letter, each.width) for letter, each in columns))
    assert len(widths) == 1


@pytest.mark.parametrize("name", SHIPPED)
def test_what_the_technician_fills_in_is_told_in_the_language(name, tmp_path):
    text = (practicals_folder() / "vinegar.toml").read_text(encoding="utf-8")
    (tmp_path / "own.toml").write_text(f'{text}\n[sheet]\nlanguage = "{name}"\n', encoding="utf-8")
    (tmp_path / "names.csv").write_text("Student\nAmara K\nBao T\n", encoding="utf-8")
    write_class_sheet(str(tmp_path / "own.toml"), tmp_path / "names.csv", tmp_path / "class.xlsx", None)
    rows = load_workbook(tmp_path / "class.xlsx")["Practical"].iter_rows(min_row=2, values_only=True)
    notes = {note for _, _, note in rows if note}
    assert notes
    assert notes & {TO_CORRECT, *OFFERED.values()} == set()
    assert unsaid(name, [TO_CORRECT, *OFFERED.values()]) == []


def _fill(page: Any) -> None:
    """Fill every unlocked cell: readings that rise, numbers elsewhere, yes for a tick."""
    words = {rule.formula1 for rule in page.data_validations.dataValidation if rule.type == "list"}
    ticks = {cell for rule in page.data_validations.dataValidation if rule.type == "list" for cell in rule.sqref}
    places = {letter for ranged in ticks for letter in [re.sub(r"\d.*", "", str(ranged))]}
    yes = next(iter(words)).strip('"').split(",")[0] if words else ""
    for row in (2, 3):
        reading = 0.5
        for cell in page[row]:
            if not cell.protection.locked and cell.value is None:
                if cell.column_letter in places:
                    cell.value = yes
                elif cell.number_format == "0.00":
                    cell.value = reading
                    reading += 5.25
    return


@pytest.mark.slow
@pytest.mark.parametrize("name", few_quick(SHIPPED, 3))
def test_decisions_are_read_back(name, tmp_path):
    given = tmp_path / "own.toml"
    text = (practicals_folder() / "drain-cleaner.toml").read_text(encoding="utf-8")
    given.write_text(f'{text}\n[sheet]\nlanguage = "{name}"\nparts = ["marks"]\n', encoding="utf-8")
    marked, say = Marked(tmp_path / "out", str(given)), Forms(language=name)
    marked.mark(CLASS)

    def decide(book: Workbook) -> None:
        _decide(book["Marks"], 2, {say("Comment"): "Read on.", f"{say('accuracy')} /3": 1})
        _decide(book["Runs"], 2, {say("Initial is"): 0.1})
        _decide(book["Runs"], 3, {say("Use"): say("no")})
        page = book["Class"]
        row = next(row for row in range(2, 60) if page.cell(row, 2).value == say("reference"))
        _decide(page, row, {say("Reference is"): 0.1})

    marked.change(decide)
    marked.mark(CLASS)
    tree = json.loads((marked.place / "results.json").read_text(encoding="utf-8"), parse_float=Decimal)
    found = {(each["what"], each["of"], str(each["value"])) for each in tree["decisions"]}
    assert found == {
        ("comment", None, "Read on."),
        ("mark", "accuracy", "1"),
        ("initial", "Rough", "0.10"),
        ("use", "1", "False"),
        ("reference", None, "0.1"),
    }


CLASS = """Student,Rough initial,Rough final,Run 1 initial,Run 1 final,Run 2 initial,Run 2 final,Mean titre,Result
Amara K,0.00,25.80,0.00,25.45,0.00,25.40,25.43,0.102
Bao T,2.60,28.40,0.00,25.20,0.80,26.05,25.23,0.101
Chiara V,1.40,27.65,0.80,26.10,3.10,28.40,25.30,0.101
"""


def _decide(page: Any, row: int, cells: dict[str, Any]) -> None:
    heads = {str(cell.value): cell.column for cell in page[1]}
    for heading, value in cells.items():
        page.cell(row, heads[heading]).value = value


@pytest.mark.parametrize("name", SHIPPED)
def test_a_longer_word_for_the_rough_is_given_room_on_the_line(name):
    runs = [
        {"label": label, "titre": titre, "used": label in "13", "kind": kind}
        for label, titre, kind in (
            ("Rough", 23.50, "rough"),
            ("1", 23.15, "accurate"),
            ("2", 23.55, "accurate"),
            ("3", 23.15, "accurate"),
        )
    ]
    practical = {"concordance": {"within": 0.10, "at_least": 2}, "sheet": {"language": name}}
    student = {
        "runs": runs,
        "mean_titre": 23.15,
        "result": None,
        "expected_titre": None,
        "concordant": True,
        "span": None,
    }
    line = titre_line(student, practical)
    assert line is not None
    levels = {mark["label"]: mark["level"] for mark in line["marks"]}
    assert levels["Rough"] != levels["2"]


@pytest.mark.parametrize(("name", "said"), [("de", "Rechnung"), ("fr", "Calcul"), ("es", "Cálculo")])
def test_a_label_with_a_name_behind_it_is_said_in_the_language(name, said):
    assert language(name)("Calculation Na₂CO₃", Typed([])) == f"{said} Na₂CO₃"
    assert language(name)("Calculation methyl orange", Typed(["methyl orange"])) == f"{said} methyl orange"
    assert language(name)("The class agrees with Na₂CO₃", Typed([])) == "The class agrees with Na₂CO₃"


@pytest.mark.parametrize("name", few_quick(SHIPPED, 3))
def test_what_the_report_says_of_the_glassware_is_said_in_the_language(name):
    before = set(language(name).left)
    for practical in map(named, shipped()):
        table = practical_tree(practical, formula_of(practical).curve, None)
        say = Forms(language=name, names=frozenset(names_in(table)))
        for part in ("burette", "flask", "concordance"):
            say(plain(table[part]))
    assert [text for key, text in language(name).left.items() if key not in before] == []


def test_a_number_of_the_students_own_is_told_by_its_heading():
    flask = {"aliquot": 10.0, "dilution": {"taken": {"column": "Wine taken", "minus": "Spilt"}, "made_up_to": "1000.0"}}
    assert plain(flask) == "aliquot 10.0, dilution: taken “Wine taken” − “Spilt”, made up to 1000.0"


@pytest.mark.parametrize("name", ["de", "fr", "es"])
def test_what_may_be_typed_is_said_with_words_that_are_in_the_language_already(name):
    say = language(name)
    for text in ("A mark for Rechnung is 0 to 3, whole or halves.", "Write sí / non, or leave it blank."):
        assert say(text) != text, text


def test_a_name_out_of_a_practical_that_ships_is_said_wherever_it_stands():
    say = Forms(language="de", names=frozenset({"methyl orange", "calcium"}))
    assert say("In the mean methyl orange") == "Im Mittel Methylorange"
    assert say("in the titration “calcium”") == "in der Titration „Calcium“"


@pytest.mark.parametrize(
    ("title", "said"), [("Acid in a limescale remover", "Säure in einem Kalkreiniger"), ("Acid", "Acid")]
)
def test_an_earlier_practical_is_named_as_its_own_sheets_name_it(title, said):
    line = f"Your runs agree, as they do in “{title}”."
    say = words_of({"practical": {"sheet": {"language": "de"}}, "students": [{"student": "Ada", "progress": line}]})
    assert say(line) == f"Deine Durchgänge stimmen überein, ebenso in „{said}“."


def test_between_numbers_with_commas_stands_the_mark_of_the_language():
    said = [Forms(decimal=",", language=name)("23.35, 23.40") for name in ("en", "de", "fr")]
    assert said == ["23,35; 23,40", "23,35; 23,40", "23,35\u202f; 23,40"]


def test_a_unit_keeps_its_small_letters_at_the_beginning():
    assert [begun("cm³ and dm³ mixed up"), begun("run 1"), begun("cm apart")] == [
        "cm³ and dm³ mixed up",
        "Run 1",
        "Cm apart",
    ]


def test_a_student_who_is_called_as_a_practical_says_keeps_the_name():
    say = Forms(language="de", names=frozenset({"total"}), kept=frozenset({"total"}))
    assert (say("total"), say("In the mean total")) == ("total", "Im Mittel total")


@pytest.mark.parametrize(
    ("name", "rough", "run"),
    [
        ("de", "In der Grobtitration waren", "In Durchgang 2 waren"),
        ("es", "En el ensayo previo, las dos", "En un ensayo (ensayo 2), las dos"),
        ("fr", "Dans l’essai rapide, les deux", "Dans un essai (essai 2), les deux"),
    ],
)
def test_what_happened_in_a_run_or_the_rough_is_said_in_the_right_case(name, rough, run):
    cause = "In {} both readings were probably read the wrong way between two numbered marks: "
    said = cause + "24.50 cm³ is 0.23 cm³ below your mean titre 24.73 cm³."
    for what, begins in (("the rough", rough), ("run 2", run)):
        assert language(name)(said.format(what), None).startswith(begins)


@pytest.mark.parametrize(
    ("name", "said"),
    [("de", "Mass der Grobtitration"), ("es", "Mass del ensayo previo"), ("fr", "Mass de l’essai rapide")],
)
def test_a_number_of_the_rough_is_named_in_the_right_case(name, said):
    told = "Mass of the rough is 0.000, which cannot be: without it this run gives no result."
    assert language(name)(told, Typed(["Mass"])).startswith(f"{said} ")


@pytest.mark.parametrize(
    ("name", "said"), [("de", "Blindverbrauch"), ("es", "volumen del blanco"), ("fr", "volume du blanc")]
)
def test_a_blank_titre_beside_a_mass_is_no_empty_cell(name, said):
    told = language(name)("Mass 2.000 g, Blank titre 24.10 cm³", Typed(["Mass"]))
    assert told == f"Mass 2.000 g, {said} 24.10 cm³"


@pytest.mark.parametrize(("name", "said"), [("de", "Blindversuch"), ("es", "Blanco"), ("fr", "Blanc")])
def test_a_blank_run_is_no_empty_cell(name, said):
    assert [language(name)(label) for label in ("Blank", "Blank 2")] == [said, f"{said} 2"]
    assert said not in language(name)("final reading corrected by the teacher (blank as written)")
