"""What the class sheet says of a student beside the readings: ID, e-mail, class, attempt, partner."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

import pytest

from labmark.outputs.table import marks_csv, sheets_csv
from labmark.pipeline import judged_tree
from labmark.pipeline import read as read_both
from labmark.problems import InputError
from tests.columns import runs_of, students_of
from tests.seeds import few_quick
from tests.test_read_headers import read

HEADER = "ID|Student|Email|Class|Attempt|Partner|Run 1 initial|Run 1 final|Run 2 initial|Run 2 final|Mean titre|Result"
ANN_1 = "1001|Ann Lee|ann@example.org|10B|1||0.00|25.30|0.10|25.40|25.30|0.101"
ANN_2 = "1001|Ann Lee|ann@example.org|10B|2||0.00|24.45|0.15|24.60|24.45|0.0978"
OTHER_ANN = "1002|Ann Lee|lee@example.org|10C|||0.05|25.35|0.15|25.45|25.30|0.101"
BEN = "1003|Ben|ben@example.org|10B|||0.00|25.25|0.20|25.50|25.28|0.101"


PLAIN = Path("templates/practicals/drain-cleaner.toml")


def tree_of(folder: Path, *rows: str, students: str = "") -> dict[str, Any]:
    """Return the record tree of a class in these rows."""
    read(folder, "\n".join((HEADER, *rows)))
    text = PLAIN.read_text(encoding="utf-8")
    (folder / "practical.toml").write_text(text + students, encoding="utf-8")
    return judged_tree(folder / "class.xlsx", str(folder / "practical.toml"), ())


def table(data: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"), newline="")))


@pytest.mark.parametrize("heading", ["Username", "User", "Initials"])
def test_an_id_goes_before_what_a_computer_knows_somebody_by(tmp_path: Path, heading: str) -> None:
    (tmp_path / "practical.toml").write_text(PLAIN.read_text(encoding="utf-8"), encoding="utf-8")
    read(tmp_path, f"{heading}|{HEADER}\nalee|{ANN_1}\n|{BEN}")
    tree = judged_tree(tmp_path / "class.xlsx", str(tmp_path / "practical.toml"), ())
    assert [row["ID"] for row in table(marks_csv(tree))] == ["1001", "1003"]


@pytest.mark.parametrize("heading", ["Initials", "Kürzel"])
@pytest.mark.parametrize(
    ("initials", "ids"),
    [
        (("KM", "KM", "KM"), [None, None, None]),
        (("KM", "", ""), [None, None, None]),
        (("KM", "JB", "KM"), [None, None, None]),
        (("AL", "BO", "CS"), ["AL", "BO", "CS"]),
    ],
)
def test_initials_beside_names_are_an_id_only_where_they_tell_students_apart(
    tmp_path: Path, initials: tuple[str, ...], ids: list[str | None], heading: str
) -> None:
    rows = (f"{name}|{own}|0.00|24.40" for name, own in zip(("Ann", "Ben", "Cem"), initials, strict=True))
    sheet = read(tmp_path, "\n".join((f"Student|{heading}|Run 1 initial|Run 1 final", *rows)))
    assert [one.get("ID") for one in students_of(sheet)["about"]] == ids


@pytest.mark.parametrize(
    ("heads", "first", "name"),
    [
        ("Name|Vorname", "Kurz|Anke", "Kurz, Anke"),
        ("Nom|Prénom", "Petit|Anne", "Petit, Anne"),
        ("Nombre|Apellidos", "Ana|Ruiz Gil", "Ruiz Gil, Ana"),
        ("Student|First name", "Anke Kurz|Anke", "Anke Kurz"),
        ("Name|Vorname", "Kurz|", "Kurz"),
        ("Name|Vorname|Nachname", "Anke K|Anke|Kurz", "Anke K"),
    ],
)
def test_a_name_and_a_forename_or_surname_in_columns_of_their_own_are_one(
    tmp_path: Path, heads: str, first: str, name: str
) -> None:
    other = first.replace("Anke", "Bea").replace("Anne", "Bea").replace("Ana|", "Bea|")
    sheet = read(tmp_path, f"{heads}|Run 1 initial|Run 1 final\n{first}|0.00|24.40\n{other}|0.00|24.45")
    assert students_of(sheet)["student"][0] == name


def test_initials_are_the_names_where_there_are_no_others(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Initials|Checked by|Run 1 initial|Run 1 final\nAL|KM|0.00|24.40\nBO|KM|0.00|24.45")
    assert list(students_of(sheet)["student"]) == ["AL", "BO"]


def test_id_email_and_class_reach_marks_csv_and_sheets_csv(tmp_path: Path) -> None:
    tree = tree_of(tmp_path, OTHER_ANN, BEN)
    tree["students"][0]["sheet"] = "feedback/01 Ann Lee.pdf"
    ann, ben = table(marks_csv(tree))
    assert (ann["ID"], ann["Email"], ann["Class"]) == ("1002", "lee@example.org", "10C")
    assert ben["ID"] == "1003"
    assert table(sheets_csv(tree))[0] == {
        "student": "Ann Lee",
        "ID": "1002",
        "Email": "lee@example.org",
        "file": "feedback/01 Ann Lee.pdf",
        "total": ann["Total"],
        "out of": ann["Out of"],
    }


def test_who_is_known_by_an_id_alone_has_it_as_name_and_id(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Student ID|Form|Run 1 initial|Run 1 final\n1001|10B|0.00|24.40\n1002|10B|0.00|24.45")
    assert list(students_of(sheet)["student"]) == ["1001", "1002"]
    assert students_of(sheet)["about"][1] == {"ID": "1002", "Class": "10B"}


@pytest.mark.parametrize(
    ("which", "counted"),
    [("", "2"), ('[students]\nattempt = "latest"', "2"), ('[students]\nattempt = "best"', "1")],
    ids=["left out", "latest", "best"],
)
def test_one_attempt_counts_and_the_other_is_kept_in_view(tmp_path: Path, which: str, counted: str) -> None:
    tree = tree_of(tmp_path, ANN_1, ANN_2, BEN, students=which)
    ann = tree["students"][0]
    assert [one["student"] for one in tree["students"]] == ["Ann Lee", "Ben"]
    assert ann["about"]["Attempt"] == counted
    assert any("is kept in view and does not count" in note for note in ann["notes"])
    assert tree["cells"]["filled"] == sum(tree["cells"][part] for part in ("used", "ignored", "rejected"))


def test_each_attempt_may_count(tmp_path: Path) -> None:
    tree = tree_of(tmp_path, ANN_1, ANN_2, students='[students]\nattempt = "each"')
    assert [one["student"] for one in tree["students"]] == ["Ann Lee (attempt 1)", "Ann Lee (attempt 2)"]


def test_an_attempt_that_was_missed_does_not_take_the_place_of_one_that_was_done(tmp_path: Path) -> None:
    tree = tree_of(tmp_path, ANN_1, "1001|Ann Lee|ann@example.org|10B|2||absent", BEN)
    assert tree["students"][0]["about"]["Attempt"] == "1"


def test_two_people_of_one_name_are_told_apart_by_their_ids(tmp_path: Path) -> None:
    tree = tree_of(tmp_path, ANN_1, ANN_2, OTHER_ANN)
    assert [one["student"] for one in tree["students"]] == ["Ann Lee (1001, attempt 2)", "Ann Lee (1002)"]
    assert not any("two people?" in note for one in tree["students"] for note in one["notes"])


def test_attempts_in_one_row_a_run_are_kept_apart(tmp_path: Path) -> None:
    rows = "Ann|1|1|0.00|24.40\nAnn|1|2|0.00|24.45\nAnn|2|1|0.00|24.50\nAnn|2|3|0.00|24.55"
    sheet = read(tmp_path, f"Student|Attempt|Run|Initial|Final\n{rows}")
    assert list(students_of(sheet)["student"]) == ["Ann (attempt 1)", "Ann (attempt 2)"]
    assert list(runs_of(sheet)["label"]) == ["1", "2", "1", "3"]


def test_a_column_attempt_alone_names_the_runs(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Student|Attempt|Initial|Final\nAnn|1|0.00|24.40\nAnn|2|0.00|24.45")
    assert list(runs_of(sheet)["label"]) == ["1", "2"]


SHARED = "0.35|25.70|1.45|26.75|2.15|27.50|25.32|0.101"
ALONE = [
    f"{4000 + n}|Pupil {n}|||||{n / 20:.2f}|{25.3 + n / 10:.2f}|{n / 10:.2f}|{25.35 + n / 8:.2f}|1.00|{26.3 + n / 20:.2f}|"
    for n in range(12)
]


@pytest.mark.parametrize("partner", few_quick(["Ben Carter", "ben", "Ben & Dee", "2002"], 4))
def test_partners_are_not_asked_about_readings_they_share(tmp_path: Path, partner: str) -> None:
    header = HEADER.replace("|Mean", "|Run 3 initial|Run 3 final|Mean")
    rows = [f"2001|Cy||||{partner}|{SHARED}", f"2002|Ben Carter|||||{SHARED}", f"2003|Dee|||||{SHARED}", *ALONE]
    read(tmp_path, "\n".join((header, *rows)))
    students = judged_tree(tmp_path / "class.xlsx", "drain-cleaner", ())["students"]
    asked = {
        one["student"]: found["evidence"]["with"]
        for one in students
        for found in one["findings"]
        if found["finding"] == "same-readings"
    }
    assert asked["Dee"]
    assert "Ben Carter" not in asked.get("Cy", [])
    assert "Cy" not in asked["Ben Carter"]


@pytest.mark.slow
def test_two_attempts_of_one_student_are_not_asked_about_each_other(tmp_path: Path) -> None:
    header = HEADER.replace("|Mean", "|Run 3 initial|Run 3 final|Mean")
    rows = [f"2001|Cy|||1||{SHARED}", f"2001|Cy|||2||{SHARED}", *ALONE]
    read(tmp_path, "\n".join((header, *rows)))
    practical = tmp_path / "each.toml"
    practical.write_text(PLAIN.read_text(encoding="utf-8") + '[students]\nattempt = "each"\n', encoding="utf-8")
    students = judged_tree(tmp_path / "class.xlsx", str(practical), ())["students"]
    assert [one["student"] for one in students][:2] == ["Cy (attempt 1)", "Cy (attempt 2)"]
    assert not [found for one in students[:2] for found in one["findings"] if found["finding"] == "same-readings"]


@pytest.mark.parametrize(("beyond", "capacity"), [(2, 50), (1, 25)])
def test_a_burette_that_most_students_read_beyond_is_a_larger_one(tmp_path: Path, beyond: int, capacity: int) -> None:
    ends = ["36.30"] * beyond + ["24.30"] * (3 - beyond)
    rows = [f"S{at}|0.00|{end}|0.00|{end}" for at, end in enumerate(ends)]
    read(tmp_path, "\n".join(["Student|Run 1 initial|Run 1 final|Run 2 initial|Run 2 final", *rows]))
    text = PLAIN.read_text(encoding="utf-8").replace("capacity = 50.0", "capacity = 25.0")
    (tmp_path / "practical.toml").write_text(text, encoding="utf-8")
    sheet, practical = read_both(tmp_path / "class.xlsx", str(tmp_path / "practical.toml"), ())
    assert (practical.file.burette.capacity, len(sheet.notes)) == (capacity, capacity == 50)


ACROSS = "{title}\n{corner}|Ann|Ben\nInitial|0.00|0.10\nFinal|{end}|{end}\n"
UPRIGHT = "{title}\n{heads}Student|Initial|Final\n{cell}Ann|0.00|{end}\n{gap}Ben|0.10|{end}\n"


@pytest.mark.parametrize(
    ("block", "titled"),
    [
        (ACROSS, {"title": "Titration {run}", "corner": ""}),
        (ACROSS, {"title": "Titration|{run}", "corner": ""}),
        (ACROSS, {"title": "", "corner": "Titration {run}"}),
        (UPRIGHT, {"title": "Titration|{run}", "heads": "", "cell": "", "gap": ""}),
        (UPRIGHT, {"title": "", "heads": "Titration|", "cell": "{run}|", "gap": "|"}),
    ],
)
def test_a_table_a_run_is_of_the_run_that_stands_over_or_before_the_students(
    tmp_path: Path, block: str, titled: dict[str, str]
) -> None:
    ends = {"rough": "24.90", "1": "24.40", "2": "24.45"}
    tables = [
        block.format(**{key: text.format(run=run) for key, text in titled.items()}, end=ends[run]) for run in ends
    ]
    sheet = read(tmp_path, "\n".join(tables))
    assert [(student.name, [run.label for run in student.runs]) for student in sheet.students] == [
        (name, ["Rough", "1", "2"]) for name in ("Ann", "Ben")
    ]


def test_a_heading_of_names_beside_blocks_takes_no_run_for_the_first_of_them(tmp_path: Path) -> None:
    rows = [f"{name}|Initial|0.00|0.00|0.10\n|Final|24.90|24.40|24.55" for name in ("Ann", "Ben", "Cy")]
    sheet = read(tmp_path, "\n".join(["Full name||0|1st|2nd", *rows]))
    assert [student.name for student in sheet.students] == ["Ann", "Ben", "Cy"]


def test_figures_of_the_rows_before_the_labels_of_readings_are_no_runs(tmp_path: Path) -> None:
    labels = ["Rough initial", "Rough final", "Run 1 initial", "Run 1 final"]
    rows = [
        f"{at}|{label}|{value}" for at, (label, value) in enumerate(zip(labels, [0, 24.9, 0, 24.4], strict=True), 1)
    ]
    (student,) = read(tmp_path, "\n".join(["Name|Ann", *rows])).students
    assert [(run.label, run.final) for run in student.runs] == [("Rough", 24_900), ("1", 24_400)]


def test_students_over_readings_of_a_run_without_a_name_are_not_taken_for_runs(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="over students' names write Rough or Run 1"):
        read(tmp_path, ACROSS.format(title="", corner="", end="24.40"))


LINES = {
    "Ada": {"Rough": ("0.00", "24.90", "24.90"), "1": ("0.00", "25.30", "25.30"), "2": ("0.10", "25.45", "25.35")},
    "Ben": {"Rough": ("0.00", "24.80", "24.80"), "1": ("0.00", "25.25", "25.25"), "2": ("0.20", "25.50", "25.30")},
}


def one_a_line(head: str, by_run: bool) -> str:
    """Return a sheet with one reading a line, the run in the label of the reading or in a column before it."""
    keys = [(name, run) for name in LINES for run in ("Rough", "1", "2")]
    between = "|" if "Run" in head else " "
    told = {run: run if run == "Rough" or between == "|" else f"Run {run}" for run in ("Rough", "1", "2")}
    lines = [
        f"{name}|{told[run]}{between}{what}|{value}"
        for name, run in (sorted(keys, key=lambda key: ("Rough", "1", "2").index(key[1])) if by_run else keys)
        for what, value in zip(("initial", "final", "titre"), LINES[name][run], strict=True)
    ]
    return "\n".join((head, *lines))


@pytest.mark.parametrize(
    ("head", "by_run"),
    [("Student|Reading|Value", False), ("Student|Run|Reading|Value", False), ("Student|Run|Reading|Value", True)],
)
def test_each_keeps_the_runs_where_a_line_holds_one_reading(tmp_path: Path, head: str, by_run: bool) -> None:
    sheet = read(tmp_path, one_a_line(head, by_run))
    assert [one.name for one in sheet.students] == ["Ada", "Ben"]
    kept = [(row["student"], row["label"].lower(), row["final"] / 1000) for row in runs_of(sheet).rows()]
    assert sorted((at, label.removeprefix("run "), final) for at, label, final in kept) == sorted(
        (at, run.lower(), float(of[1])) for at, runs in enumerate(LINES.values()) for run, of in runs.items()
    )


RUNS_SAID_ONCE = """Run|Student|Reading|Value\n1|Ada|initial|0.00\n |{ada}|final|25.30\n |Ben|initial|0.10\n |{ben}|final|25.35
2|Ada|initial|0.10\n |{ada}|final|25.45\n |Ben|initial|0.00\n |{ben}|final|25.30"""


@pytest.mark.parametrize(
    "text",
    [
        one_a_line("Student|Reading|Value", by_run=True),
        RUNS_SAID_ONCE.format(ada="Ada", ben="Ben"),
        RUNS_SAID_ONCE.format(ada=" ", ben=" "),
        one_a_line("Student|Reading|Value", by_run=False).replace("Run 2 ", "Run 1 "),
    ],
    ids=["scattered", "run once over several", "name and run once", "no telling the runs apart"],
)
def test_readings_line_by_line_are_asked_for_otherwise_where_they_cannot_be_told_apart(
    tmp_path: Path, text: str
) -> None:
    with pytest.raises(InputError, match="each line holds one reading"):
        read(tmp_path, text)


def test_what_heads_the_labels_of_readings_alone_is_no_name(tmp_path: Path) -> None:
    lines = [
        f"{name}|Run 1 {end}|{value}" for name in ("Ada", "Ben") for end, value in (("start", "0"), ("end", "24.40"))
    ]
    sheet = read(tmp_path, "\n".join(("Student|Quantity", *lines)))
    assert [one.name for one in sheet.students] == ["Ada", "Ben"]


def test_a_name_over_a_form_is_the_students_with_the_solution_beside_its_labels(tmp_path: Path) -> None:
    form = "Name|{}|Date|3 May\nNaOH|Run 1 initial|0.00\nNaOH|Run 1 final|{}\nNaOH|Run 2 initial|0.10\nNaOH|Run 2 final|24.60"
    sheet = read(tmp_path, "\n\n".join((form.format("Ada", "24.40"), form.format("Ben", "24.50"))))
    assert [(one.name, [run.final for run in one.runs]) for one in sheet.students] == [
        ("Ada", [24400, 24600]),
        ("Ben", [24500, 24600]),
    ]


@pytest.mark.parametrize("word", ["final", "Titre"])
def test_a_label_written_into_a_reading_is_a_word_there_with_students_across(tmp_path: Path, word: str) -> None:
    rows = ("Run 1 initial|0.00|0.10|0.20", "Run 1 final|24.40|24.50|24.60", "Run 2 initial|0.10|0.20|0.00")
    sheet = read(tmp_path, "\n".join(("Student|Ann|Ben|Cem", *rows, f"Run 2 final|{word}|24.65|24.45")))
    assert [(one.name, [run.final for run in one.runs]) for one in sheet.students] == [
        ("Ann", [24400, None]),
        ("Ben", [24500, 24650]),
        ("Cem", [24600, 24450]),
    ]
