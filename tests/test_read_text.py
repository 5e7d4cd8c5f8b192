"""Text tables: encodings, delimiters, decimal marks, trailing zeros, and large tables."""

from __future__ import annotations

import random
import re
import subprocess
import sys
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import pytest

from labmark.practical.quantities import QUANTITIES
from labmark.practicals import find_practical
from labmark.problems import InputError
from labmark.read import read_class
from labmark.read.text import choose_delimiter, decode
from labmark.records import ClassSheet
from tests.benchmarks.bench_cohort import cohort, figures_of, rows
from tests.columns import runs_of, students_of
from tests.layouts import English, as_text, wide
from tests.seeds import few_quick

HEADER = "Student,Run 1 initial,Run 1 final,Run 2 initial,Run 2 final"


def read(folder: Path, text: str, encoding: str = "utf-8") -> ClassSheet:
    (folder / "class.csv").write_bytes(text.encode(encoding))
    return read_class(folder / "class.csv")


@pytest.mark.parametrize(
    ("encoding", "name", "guessed"),
    [
        ("utf-8", "UTF-8", False),
        ("utf-8-sig", "UTF-8", False),
        ("utf-16", "UTF-16", False),
        ("utf-16-le", "UTF-16", False),
        ("utf-16-be", "UTF-16", False),
        ("cp1252", "Windows-1252", True),
    ],
)
def test_the_encoding_is_found_from_the_bytes(encoding: str, name: str, guessed: bool) -> None:
    text = "Schüler;Anfang\nJörg;0,00\n" * 5
    assert decode("class.csv", text.encode(encoding)) == (text, name, guessed)


def test_a_guessed_encoding_is_said(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Schüler;Anfang 1;Ende 1\nJörg;0,00;24,40\nZoë;0,00;24,35\n", "cp1252")
    assert list(students_of(sheet)["student"]) == ["Jörg", "Zoë"]
    assert any("encoding was guessed (Windows-1252)" in note for note in sheet.notes)


@pytest.mark.parametrize(
    ("delimiter", "comma"), [(",", False), (";", True), (";", False), ("\t", True), ("\t", False), ("|", False)]
)
def test_the_delimiter_is_found_whatever_the_decimal_mark(delimiter: str, comma: bool) -> None:
    assert choose_delimiter(as_text(wide(), delimiter, comma)) == delimiter


@pytest.mark.parametrize("delimiter", ["\t", ";"])
def test_the_delimiter_is_found_where_each_row_has_one_decimal_comma(delimiter: str) -> None:
    rows = ["Élève|Essai|Lecture|mL", *(f"Ada|{run}|{end}|{run},35" for run in (1, 2) for end in ("Début", "Fin"))]
    notes = ("TP 7", "Dosage", "", *rows, "", "* dépassé")
    assert choose_delimiter("\n".join(notes).replace("|", delimiter)) == delimiter


def test_semicolons_between_the_readings_of_a_cell_part_no_fields() -> None:
    rows = [f"S{at},0.10; 25.40,0.20; 25.55,25.35" for at in range(20)]
    assert choose_delimiter("\n".join(("Student,Run 1,Run 2,Mean", *rows))) == ","


def test_decimal_commas_between_commas_are_refused_as_22_50_would_read_as_22(tmp_path: Path) -> None:
    rows = "".join(f"S{number},0,00,24,4{number}\n" for number in range(5))
    with pytest.raises(
        InputError, match=r"cell A2: the fields are parted by commas and the decimals seem to be commas too"
    ):
        read(tmp_path, "Student,Run 1 initial,Run 1 final\n" + rows)


def test_quoted_decimal_commas_beside_a_narrow_note_are_not_split(tmp_path: Path) -> None:
    quoted = 'Name,A\n,Rough,1\nFinal,"24,90","24,40"\nInitial,"0,00","0,00"\nNote,a drop over\n'
    assert list(runs_of(read(tmp_path, quoted))["final"]) == [24900, 24400]


def test_runs_beside_readings_with_units_are_no_halves_of_numbers(tmp_path: Path) -> None:
    rows = "Ada,1,0.00 ml,24.10 ml\n,2,0.05 ml,24.15 ml\nCy,,absent\nDi,1,0.00 ml,24.20 ml\n,2,0.10 ml,24.40 ml\n"
    sheet = read(tmp_path, "Name,Run,Initial,Final\n" + rows)
    assert list(runs_of(sheet)["final"]) == [24100, 24150, 24200, 24400]


def test_one_number_with_the_other_decimal_mark_is_read_and_the_teacher_told(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Student;Run 1 initial;Run 1 final\nS01;0,00;24,40\nS02;0,05;24.45\nS03;0,00;24,50\n")
    assert not sheet.ledger.rejected
    assert list(runs_of(sheet)["final"]) == [24400, 24450, 24500]
    assert any(note.startswith("1 number has a decimal point and 5 a decimal comma; each") for note in sheet.notes)


def test_the_student_s_own_marks_decide_about_a_result_of_two_meanings_before_the_file_s(tmp_path: Path) -> None:
    rows = "A;0,00;24,40;0,10;24,50;1,010\nB;0.00;24.40;0.10;24.50;1.010\nC;0.00;24.40;0.10;24.50;1,010\n"
    sheet = read(tmp_path, f"{HEADER},Result\n".replace(",", ";") + rows)
    assert list(students_of(sheet)["result"]) == [Decimal("1.010"), Decimal("1.010"), None]
    assert sheet.ledger.rejected == {"F4": "'1,010' can be 1.010 or 1010; write it with a decimal point"}


def test_digits_are_known_where_a_reading_has_a_trailing_zero(tmp_path: Path) -> None:
    sheet = read(tmp_path, f"{HEADER}\nS01,0.00,24.40,0.5,24.45\n")
    assert list(runs_of(sheet)["initial_decimals"]) == [2, 1]
    assert not any("trailing zeros" in note for note in sheet.notes)


def test_a_nought_behind_the_point_is_how_a_program_writes_a_whole_number(tmp_path: Path) -> None:
    # 0.0 and 2.0 of numbers that were 0 and 2: 25.4 may have been 25.40
    sheet = read(tmp_path, f"{HEADER}\nA,0.0,25.4\nB,2.0,27.25\nC,0.5,26.0")
    assert list(runs_of(sheet)["final_decimals"]) == [None, None, None]
    assert any("keeps no trailing zeros" in note for note in sheet.notes)


def test_readings_that_all_have_one_decimal_were_read_so(tmp_path: Path) -> None:
    sheet = read(tmp_path, f"{HEADER}\nA,0.0,25.4\nB,2.0,27.2\nC,0.5,26.0")
    assert list(runs_of(sheet)["final_decimals"]) == [1, 1, 1]


def test_digits_are_unknown_where_the_file_drops_trailing_zeros(tmp_path: Path) -> None:
    sheet = read(tmp_path, f"{HEADER},Result\nS01,0,24.4,0.5,24.45,0.0974\n")
    assert set(runs_of(sheet)["initial_decimals"]) == {None}
    assert set(runs_of(sheet)["final_decimals"]) == {None}
    assert set(students_of(sheet)["result_decimals"]) == {None}
    assert any("keeps no trailing zeros" in note for note in sheet.notes)


@pytest.mark.parametrize(
    ("results", "decimals"),
    [
        (("93", "93.2", "92.96"), [None, None, 2]),  # 93.0 in a column that has no format
        (("93", "92.8", "93.0"), [0, 1, 1]),
        (("93", "94"), [0, 0]),
    ],
)
def test_a_result_shorter_than_others_may_have_lost_its_zeros_though_the_readings_keep_theirs(
    tmp_path: Path, results: tuple[str, ...], decimals: list[int | None]
) -> None:
    rows = "".join(f"S{n},0.00,24.40,0.50,24.85,{result}\n" for n, result in enumerate(results))
    sheet = read(tmp_path, f"{HEADER},Result\n{rows}")
    assert list(students_of(sheet)["result_decimals"]) == decimals
    assert set(runs_of(sheet)["final_decimals"]) == {2}


def test_what_is_typed_in_words_does_not_tell_whether_a_program_keeps_the_zeros_of_numbers(tmp_path: Path) -> None:
    sheet = read(tmp_path, f"{HEADER}\nA,0.0,25.4\nB,30.0,50.00 + 5.35\nC,0.5,26.85")
    assert list(runs_of(sheet)["final_decimals"])[::2] == [None, None]


def test_addresses_of_a_text_table_have_no_sheet(tmp_path: Path) -> None:
    sheet = read(tmp_path, f"{HEADER}\nS01,0.00,24.40\n")
    assert runs_of(sheet)["cells"][0] == {"initial": "B2", "final": "C2"}
    assert sheet.sheets == ()


def test_a_short_row_is_padded_and_a_blank_line_counts_as_a_row(tmp_path: Path) -> None:
    sheet = read(tmp_path, f"{HEADER}\nS01,0.00,24.40\n\nS02,0.00,24.50,0.10,24.60\n")
    assert list(students_of(sheet)["student"]) == ["S01", "S02"]
    assert runs_of(sheet)["cells"][1]["initial"] == "B4"


def test_numbers_of_students_and_codes_keep_their_zeros(tmp_path: Path) -> None:
    assert list(students_of(read(tmp_path, f"{HEADER}\n001,0.00,24.40\n2,0.00,24.30\n"))["student"]) == ["001", "2"]


def test_a_line_break_within_quotation_marks_stays_in_its_cell(tmp_path: Path) -> None:
    sheet = read(tmp_path, 'Student,"Run 1\r\ninitial",Run 1 final\r\n"Marlow, Ada",0.00,24.40\r\n')
    assert list(students_of(sheet)["student"]) == ["Marlow, Ada"]
    assert runs_of(sheet)["initial"][0] == 0


@pytest.mark.parametrize("name", ["None", "NA", "n/a", "null", "nan", "True", "=1+1", "@home", "-", "1e5"])
def test_no_name_vanishes_from_a_text_table(tmp_path: Path, name: str) -> None:
    assert name in list(students_of(read(tmp_path, f"{HEADER}\nS01,0.00,24.40\n{name},0.00,24.30\n"))["student"])


# -- large tables -----------------------------------------------------------------------------------------------------


def large(count: int) -> str:
    """A large invented class."""
    chance = random.Random(1)
    rows = [wide()[0]]
    for number in range(count):
        row = [f"S{number:06}", str(number % 12 + 1)]
        for at in range(4):
            initial = chance.randrange(0, 40) * 5
            final = initial + 2400 + chance.randrange(0, 20) * 5
            row += [f"{initial / 100:.2f}", f"{final / 100:.2f}", f"{(final - initial) / 100:.2f}"] + (
                [chance.choice(["y", ""])] if at else []
            )
        row += [f"{24 + chance.random():.2f}", f"{0.09 + chance.random() / 100:.4f}"]
        rows.append(row)
    return as_text(rows, ",", comma=False)


@pytest.mark.slow
def test_an_examining_body_s_table_of_10_000_students_is_checked_within_1_gb(tmp_path: Path) -> None:
    path = tmp_path / "class.csv"
    practical = find_practical("drain-cleaner", path)
    path.write_text("\n".join(rows(cohort(10_000), figures_of(practical))), encoding="utf-8")
    # The process tells its own memory: what the system counts for a child begins with that of the tests before it.
    code = "import atexit, pathlib; atexit.register(lambda: print(pathlib.Path('/proc/self/status').read_text()))"
    command = [sys.executable, "-c", f"{code}; from labmark.cli import main; main()"]
    command += ["check", str(path), "--practical", "drain-cleaner"]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    assert re.search(r"\b10\D000 students", done.stdout)
    assert int(re.search(r"VmHWM:\s*(\d+) kB", done.stdout)[1]) < 2**20


@pytest.mark.slow
def test_two_students_of_one_name_in_a_large_table_are_kept_apart(tmp_path: Path) -> None:
    sheet = read(tmp_path, large(500).replace("S000100,", "S000101,", 1))
    assert "S000101 (2)" in list(students_of(sheet)["student"])


@pytest.mark.slow
@pytest.mark.parametrize(
    "change", [lambda text: text.replace("\r\n", "\n"), lambda text: text.replace("\r\n", "\n", 50)]
)
def test_a_large_table_is_the_same_whatever_ends_its_lines(tmp_path: Path, change: Callable[[str], str]) -> None:
    text = large(500)
    assert "\r\n" in text
    one, other = (read(tmp_path, each) for each in (text, change(text)))
    assert runs_of(one).without("cells") == runs_of(other).without("cells")
    assert list(students_of(one)["result"]) == list(students_of(other)["result"])


def test_words_for_fields_are_those_of_the_maker() -> None:
    assert set(English) == {"student", "bench", "initial", "final", "titre", "used", "mean", "result", "rough", "run"}


def test_dates_and_errors_that_a_spreadsheet_left_in_a_text_table_are_told_apart(tmp_path: Path) -> None:
    sheet = read(tmp_path, f"{HEADER},Mean titre\nA,0.00,22-May,22 May,#REF!,#DIV/0!\nB,0.00,24.4O,0.10,24.50,24.40\n")
    assert list(runs_of(sheet)["spoilt"]) == [("final",), ("initial", "final"), (), ()]
    assert runs_of(sheet)["odd"][0] == {"final": "a date (22-May)"}
    assert students_of(sheet)["odd"][0] == {"mean": "#DIV/0!"}


def test_both_readings_of_a_cell_are_not_rounded_either(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Student,Run 1,Run 2\nA,0.10 - 26.3005,0.10 - 25.40\nB,#REF!,0.10 - 25.40\n")
    assert list(runs_of(sheet)["odd"]) == [
        {"initial": "0.10 - 26.3005", "final": "0.10 - 26.3005"},
        {},
        {"initial": "#REF!", "final": "#REF!"},
        {},
    ]
    assert list(runs_of(sheet)["spoilt"]) == [(), (), ("initial", "final"), ()]
    assert "more digits" in sheet.ledger.rejected["B2"]


def test_own_figures_that_cannot_be_read_keep_their_text(tmp_path: Path) -> None:
    rows = 'A,0.00,25.30,0.10,25.40,"25,300","1,010"\nB,0.00,25.30,0.10,25.40,25.3 or so,dunno\n'
    sheet = read(tmp_path, f"{HEADER},Mean titre,Result\n{rows}")
    assert students_of(sheet)["mean"][0] == Decimal("25.300")
    assert list(students_of(sheet)["odd"]) == [{"result": "1,010"}, {"mean": "25.3 or so", "result": "dunno"}]
    assert sheet.ledger.rejected["G2"] == "'1,010' can be 1.010 or 1010; write it with a decimal point"


def test_own_figures_with_the_other_decimal_mark_are_read(tmp_path: Path) -> None:
    sheet = read(tmp_path, f'{HEADER},Mean titre,Result\nA,0.00,25.30,0.10,25.40,"25,30","0,101"\n')
    row = students_of(sheet).rows()[0]
    assert (row["mean"], row["mean_decimals"], row["result"], row["result_decimals"]) == (
        Decimal("25.30"),
        2,
        Decimal("0.101"),
        3,
    )


@pytest.mark.parametrize("header", ["Result / mmol dm-3", "Result (mmol/L)", "Concentration of NaOH in mM"])
@pytest.mark.parametrize("students", few_quick([3, 500], 2))
def test_results_headed_with_another_power_of_ten_are_turned_into_the_unit_asked_for(
    tmp_path: Path, header: str, students: int
) -> None:
    rows = "".join(f"S{number:06},0.00,24.70,0.10,24.80,24.70,98.80\n" for number in range(students))
    (tmp_path / "class.csv").write_text(f"{HEADER},Mean titre,{header}\n{rows}", encoding="utf-8")
    sheet = read_class(tmp_path / "class.csv", asked=QUANTITIES["amount concentration"].asked)
    assert set(students_of(sheet)["result"]) == {Decimal("0.09880")}
    assert set(students_of(sheet)["result_decimals"]) == {5}
    assert sum("each was taken × 10^-3" in note for note in sheet.notes) == 1


def test_a_header_in_a_unit_of_something_else_is_said_once_and_changes_nothing(tmp_path: Path) -> None:
    rows = "".join(f"S{number},0.00,24.70,0.10,24.80,24.70,0.0988\n" for number in range(3))
    (tmp_path / "class.csv").write_text(f"{HEADER},Mean titre,Result / g dm-3\n{rows}", encoding="utf-8")
    sheet = read_class(tmp_path / "class.csv", asked=QUANTITIES["amount concentration"].asked)
    assert set(students_of(sheet)["result"]) == {Decimal("0.0988")}
    assert set(students_of(sheet)["result_unit"]) == {"g/dm3"}
    assert [note for note in sheet.notes if "look at the unit" in note] == [
        "the results are headed 'g dm-3', and mol/dm3 is asked for: they were taken as they stand, in g/dm3; look at the unit"
    ]


def test_the_titre_once_more_in_the_column_of_ticks_is_a_tick(tmp_path: Path) -> None:
    header = "Student,Run 1 initial,Run 1 final,Run 1 titre,Run 1 used,Run 2 initial,Run 2 final,Run 2 titre,Run 2 used"
    sheet = read(tmp_path, f"{header}\nA,0.00,24.40,24.40,24.40,0.00,25.40,25.40,overshot\n")
    assert list(runs_of(sheet)["ticked"]) == [True, False]


def test_readings_that_stand_together_in_a_cell_tell_whether_zeros_are_kept(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Student,Rough,Run 1\nA,0.10 - 25.90,1.55 - 26.90\nB,0.60 - 26.30,1.40 - 26.75\n")
    assert not any("trailing zeros" in note for note in sheet.notes)
    assert list(runs_of(sheet)["final_decimals"]) == [2, 2, 2, 2]


@pytest.mark.parametrize(
    ("rows", "line"),
    [
        ('"A,0.00,24.40,0.00,24.40\nB,0.00,24.40,0.00,24.40\n', 2),
        ('A,0.00,24.40,0.00,24.40\nB,0.00,"24.40,0.00,24.40\nC,0.00,24.40,0.00,24.40\n', 3),
        ('A,0.00,24.40,0.00,24.40\nB,0.00,24.40,0.00,"24.40', 3),
        ('"A,0.00,24.40,0.00,24.40\n"B",0.00,24.40,0.00,24.40\nC,0.00,24.40,0.00,24.40\n', 2),
        ('"A"",0.00,24.40,0.00,24.40\nB,0.00,24.40,0.00,24.40\n', 2),
    ],
)
def test_a_quotation_mark_that_swallows_rows_is_refused_with_its_line(tmp_path: Path, rows: str, line: int) -> None:
    with pytest.raises(InputError, match=f"a quotation mark opens in line {line} ") as caught:
        read(tmp_path, f"{HEADER}\n{rows}")
    assert len(caught.value.problems) == 1


def test_quotation_marks_that_close_are_no_fault(tmp_path: Path) -> None:
    rows = '"A ""the first""",0.00,24.40,0.00,24.40\n"B\nagain","0.00",24.40,0.00,24.40\nC "c",0.00,24.40,0.00,24.40\n'
    sheet = read(tmp_path, f"{HEADER}\n{rows}")
    assert list(students_of(sheet)["student"]) == ['A "the first"', "B again", 'C "c"']


@pytest.mark.parametrize("text", few_quick([f"{HEADER}\nA,0.00,24.40,0.00,24.40\n", large(500)], 2), ids=["", "large"])
def test_a_sheet_that_a_text_table_has_not_got_is_an_error(tmp_path: Path, text: str) -> None:
    (tmp_path / "class.csv").write_text(text)
    with pytest.raises(InputError, match="a text table has no sheets, so none called 'Results'"):
        read_class(tmp_path / "class.csv", sheets=["Results"])
    assert len(read_class(tmp_path / "class.csv", sheets=["class"]).students)


def test_the_first_part_of_a_refilled_run_does_not_pass_for_the_whole(tmp_path: Path) -> None:
    header = "Student,Run 1 initial,Run 1 final,Run 1 initial after refill,Run 1 final after refill,Run 2 initial"
    sheet = read(
        tmp_path, f"{header},Run 2 final\nA,0.00,48.20,0.00,#REF!,0.00,24.40\nB,0.00,48.20,0.00,1.3O,0.00,24.40\n"
    )
    assert [final is None for final in runs_of(sheet)["final"]] == [True, False, True, False]
    assert [entry.get("final") for entry in runs_of(sheet)["odd"]] == ["#REF!", None, "1.3O", None]
    assert list(runs_of(sheet)["spoilt"]) == [("final",), (), (), ()]
