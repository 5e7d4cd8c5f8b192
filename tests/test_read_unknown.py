"""Words that are in no list: what they head is asked about or said, and nothing beside it is lost or half read."""

from __future__ import annotations

from pathlib import Path

import pytest

from labmark.pipeline import judged_tree
from labmark.problems import InputError
from labmark.records import ClassSheet
from tests.columns import runs_of, students_of
from tests.test_read_headers import read
from tests.test_read_workbook import class_of


def runs(sheet: ClassSheet) -> list[tuple[object, ...]]:
    names = [one["student"] for one in students_of(sheet).rows()]
    return [(names[run["student"]], run["label"], run["final"] - run["initial"]) for run in runs_of(sheet).rows()]


def claims(sheet: ClassSheet) -> list[tuple[str, str, str]]:
    return [(one["student"], str(one["mean"]), str(one["result"])) for one in students_of(sheet).rows()]


@pytest.mark.parametrize("label", ["Tally?|✓|✓", "Drops|12|14"])
def test_a_label_in_a_block_that_is_not_understood_hides_no_mean_below_it(tmp_path: Path, label: str) -> None:
    block = f"{{}}\n|1|2\nInitial|0.00|0.10\nFinal|25.30|25.50\n{label}\nMean titre|25.35\nResult|0.101"
    sheet = read(tmp_path, "\n\n".join(block.format(name) for name in ("Ada", "Ben")))
    assert claims(sheet) == [("Ada", "25.35", "0.101"), ("Ben", "25.35", "0.101")]
    assert runs(sheet) == [
        (name, label, titre) for name in ("Ada", "Ben") for label, titre in (("1", 25300), ("2", 25400))
    ]


def test_titres_in_a_block_under_a_word_that_is_not_understood_are_asked_about(tmp_path: Path) -> None:
    block = "Ada\n|1|2\nInitial|0.00|0.10\nFinal|25.30|25.50\nUsage|25.30|25.40\nMean titre|25.35"
    with pytest.raises(InputError, match=r"may hold readings but are not understood: 'Usage' \(row 5\)"):
        read(tmp_path, block)


def test_volumes_at_the_end_of_students_across_are_titres(tmp_path: Path) -> None:
    rows = ["Name|Ada|Ben", "Test 1 - before|0.20|0.10", "Test 1 - after|25.50|25.50", "Test 1 - volume|25.30|25.40"]
    sheet = read(tmp_path, "\n".join([*rows, "Concentration|0.101|0.102"]))
    assert [run["titre"] for run in runs_of(sheet).rows()] == [25300, 25400]
    assert [result for *_, result in claims(sheet)] == ["0.101", "0.102"]


@pytest.mark.parametrize("headings", [("Rough", "Titration 1", "Titration 2"), ("Run 0", "Titre 1", "Titre 2")])
def test_a_run_alone_in_a_line_is_that_of_the_lines_below_it(tmp_path: Path, headings: tuple[str, str, str]) -> None:
    finals = {"Ada": ("25.45", "25.40", "25.40"), "Ben": ("25.60", "25.30", "25.40")}
    parts = [
        "\n".join((heading, *(f"{name}|0.00|{of[place]}" for name, of in finals.items())))
        for place, heading in enumerate(headings)
    ]
    sheet = read(tmp_path, "\n".join(("Name|Start|End", *parts, "", "* repeated")))
    assert sorted(runs(sheet)) == [
        *(("Ada", "1", 25400), ("Ada", "2", 25400), ("Ada", "Rough", 25450)),
        *(("Ben", "1", 25300), ("Ben", "2", 25400), ("Ben", "Rough", 25600)),
    ]


def test_which_run_over_names_of_runs_is_no_question_after_those_used(tmp_path: Path) -> None:
    block = "{}\nWhich run|Start|End\nRough|0.00|25.90\nRun 1|0.00|25.30\nRun 2|0.10|25.50\nAverage|25.35\nFinal answer|0.101"
    sheet = read(tmp_path, "\n\n".join(block.format(name) for name in ("Ada", "Ben")))
    titres = (("Rough", 25900), ("1", 25300), ("2", 25400))
    assert runs(sheet) == [(name, label, titre) for name in ("Ada", "Ben") for label, titre in titres]
    assert claims(sheet) == [("Ada", "25.35", "0.101"), ("Ben", "25.35", "0.101")]


def test_a_number_behind_the_last_run_under_a_word_that_is_not_understood_is_no_titre_of_it(tmp_path: Path) -> None:
    header = "Name|Run 1|||Run 2|||\n|Start|End|Titre|Start|End|{}|Result"
    lines = "Ada|0.00|25.30|25.30|0.10|25.50|25.35|0.101\nBen|0.00|25.40|25.40|0.10|25.40|25.35|0.101"
    with pytest.raises(InputError, match=r"may hold readings but are not understood: 'Tally' \(column G\)"):
        read(tmp_path, f"{header.format('Tally')}\n{lines}")


@pytest.mark.parametrize("name", ["Ada", ""])
def test_lines_of_each_student_that_are_not_understood_are_asked_about(tmp_path: Path, name: str) -> None:
    lines = f"Ada|Anterior|0.00|0.10\n{name}|Posterior|25.30|25.50\nBen|Anterior|0.00|0.10\n{name and 'Ben'}|Posterior|25.30|25.50"
    asked = r"cell B2: each student has several lines, .* what they hold: 'Anterior', 'Posterior'"
    with pytest.raises(InputError, match=asked):
        read(tmp_path, f"Name||Rough|Run 1\n{lines}")


def test_words_below_titres_that_are_not_understood_part_their_readings(tmp_path: Path) -> None:
    header = "Name|Titre 1||Titre 2||Mean\n|Anterior|Posterior|Anterior|Posterior|"
    sheet = read(tmp_path, f"{header}\nAda|0.00|25.30|0.10|25.50|25.35\nBen|0.00|25.40|0.10|25.50|25.40")
    assert runs(sheet) == [("Ada", "1", 25300), ("Ada", "2", 25400), ("Ben", "1", 25400), ("Ben", "2", 25400)]


@pytest.mark.parametrize("line", ["Teacher: AB", "Lehrerin: AB", "Indicator: phenolphthalein"])
def test_who_teaches_the_class_does_not_make_the_first_block_a_demonstration(tmp_path: Path, line: str) -> None:
    block = "{}|1|2\nInitial|0.00|0.10\nFinal|25.30|25.50"
    sheet = read(tmp_path, f"{line}\n\n" + "\n\n".join(block.format(name) for name in ("Ada", "Ben")))
    assert [one["student"] for one in students_of(sheet).rows()] == ["Ada", "Ben"]


@pytest.mark.parametrize("names", ["Vorname", "Name, Vorname", "Surname", "ID"])
def test_answers_in_a_table_of_their_own_go_by_whatever_names_the_students(tmp_path: Path, names: str) -> None:
    readings = f"{names}|Run 1 start|Run 1 end\nAda|0.00|25.30\nBen|0.10|25.50"
    sheet = read(tmp_path, f"{readings}\n\n{names}|Mean titre|Concentration\nAda|25.30|0.101\nBen|25.40|0.102")
    assert claims(sheet) == [("Ada", "25.30", "0.101"), ("Ben", "25.40", "0.102")]


@pytest.mark.parametrize("name", ["", "Max"])
def test_the_figures_of_every_column_are_no_student_s_whatever_the_line_is_called(tmp_path: Path, name: str) -> None:
    header = "Name|Run 1 start|Run 1 end|Run 1 titre|Run 2 start|Run 2 end|Run 2 titre"
    people = ["Ada|0.00|25.30|25.30|0.10|25.50|25.40", "Ben|0.10|25.50|25.40|0.20|25.50|25.30"]
    figures = {"": "0.05|25.40|25.35|0.15|25.50|25.35", "Max": "0.10|25.50|25.40|0.20|25.50|25.40"}
    sheet = read(tmp_path, "\n".join((header, *people, f"{name}|{figures[name]}")))
    assert [one["student"] for one in students_of(sheet).rows()] == ["Ada", "Ben"]


@pytest.mark.parametrize("header", ["Difference", "Vol of NaOH / cm3"])
@pytest.mark.parametrize("number", ["0.05", "25.0"])
def test_a_volume_that_is_no_difference_of_readings_is_no_titre(tmp_path: Path, header: str, number: str) -> None:
    table = f"Name|Run 1 start|Run 1 end|{header}|Run 2 start|Run 2 end"
    lines = [f"{name}|0.00|25.30|{number}|0.10|25.5{place}" for place, name in enumerate(("Ada", "Ben", "Cy"))]
    sheet = read(tmp_path, "\n".join((table, *lines)))
    assert {run["titre"] for run in runs_of(sheet).rows()} == {None}


def test_a_concentration_that_is_everybody_s_and_the_practical_s_is_no_result(tmp_path: Path) -> None:
    lines = ["Name|Conc. of acid|Start|End|c", "Ada|0.0500|0.00|25.30|0.101", "Ben|0.0500|0.10|25.50|0.102"]
    (tmp_path / "class.csv").write_text("\n".join(lines).replace("|", ","), encoding="utf-8")
    tree = judged_tree(tmp_path / "class.csv", "drain-cleaner", ())
    assert [float(one["claimed"]["result"]) for one in tree["students"]] == [0.101, 0.102]


def test_a_technician_s_table_below_the_class_is_left_out(tmp_path: Path) -> None:
    table = "Name|Run|Start|End\nAda|1|0.00|25.30\nBen|1|0.10|25.50"
    blank = "Standardisation (technician)\nRun|Start|End\n1|0.00|24.95\n2|0.00|25.00"
    sheet = read(tmp_path, f"{table}\n\n{blank}")
    assert [one["student"] for one in students_of(sheet).rows()] == ["Ada", "Ben"]


def test_noes_alone_in_a_column_of_ticks_are_ticks(tmp_path: Path) -> None:
    header = "Name|" + "|".join(f"T{run} start|T{run} end|T{run} vol|T{run} conc?" for run in (1, 2, 3))
    line = "0.00|25.90|25.90|n|0.00|25.30|25.30|y|0.10|25.50|25.40|y"
    sheet = read(tmp_path, f"{header}\nAda|{line}\nBen|{line}")
    assert [run["ticked"] for run in runs_of(sheet).rows()] == [False, True, True] * 2


def test_ticks_under_a_word_that_is_not_understood_are_ticks(tmp_path: Path) -> None:
    block = "{}\n|1|2|3\nInitial|0.00|0.10|0.00\nFinal|25.90|25.40|25.30\nTally?||✓|✓"
    sheet = read(tmp_path, "\n\n".join(block.format(name) for name in ("Ada", "Ben")))
    assert [run["ticked"] for run in runs_of(sheet).rows()] == [False, True, True] * 2


@pytest.mark.parametrize("gap", ["", "\n"])
@pytest.mark.parametrize("label", ["Name|{}", "{}"])
def test_blocks_directly_below_a_table_are_other_students(tmp_path: Path, gap: str, label: str) -> None:
    table = "Name|Run|Start|End\nAda|1|0.00|25.30\nAda|2|0.10|25.50\nBen|1|0.00|25.20\nBen|2|0.10|25.40"
    block = f"{label}\n|Start|End\n1|0.00|25.40\n2|0.10|25.50\nAverage||25.40"
    sheet = read(tmp_path, "\n".join((table, *(f"{gap}{block.format(name)}" for name in ("Cy", "Dee")))))
    assert sorted(runs(sheet)) == [
        *(("Ada", "1", 25300), ("Ada", "2", 25400), ("Ben", "1", 25200), ("Ben", "2", 25300)),
        *((name, run, 25400) for name in ("Cy", "Dee") for run in ("1", "2")),
    ]


def test_a_table_below_blocks_is_one_of_its_own(tmp_path: Path) -> None:
    block = "Name|Cy\nRun|Start|End\n1|0.00|25.40\n2|0.10|25.50\nAverage||25.40\n\n"
    table = "|Run 1||Run 2|\nName|Start|End|Start|End\nAda|0.00|25.30|0.10|25.50\nBen|0.00|25.20|0.10|25.40"
    assert len(runs(read(tmp_path, block + table))) == 6


def test_a_word_that_heads_names_is_nobody_s_name(tmp_path: Path) -> None:
    table = "Name|Run 1 start|Run 1 end\nAda|0.00|25.30\nBen|0.10|25.40\nPupil|Anterior|Posterior\nCy|0.00|25.30"
    with pytest.raises(InputError, match=r"cell A4: 'Pupil' heads names or stands before one"):
        read(tmp_path, table)


def test_a_column_of_remarks_behind_readings_in_lines_of_their_own_is_no_run(tmp_path: Path) -> None:
    lines = [
        f"{name}|{run}|{end}|{number}|mL|A"
        for name in ("Ada", "Ben")
        for run in ("Rough", "1")
        for end, number in (("Initial reading", "0.00"), ("Final reading", "25.40"), ("Titre", "25.40"))
    ]
    sheet = read(tmp_path, "\n".join(("Analyst|Replicate|Component|Value|Units|Status", *lines)))
    assert runs(sheet) == [(name, run, 25400) for name in ("Ada", "Ben") for run in ("Rough", "1")]


def test_numbers_of_runs_below_readings_stand_beside_a_heading_of_names(tmp_path: Path) -> None:
    header = "|Start||End|\nCandidate|1|2|1|2"
    sheet = read(tmp_path, f"{header}\nAda|0.00|0.10|25.30|25.50\nBen|0.00|0.10|25.20|25.40\nCy|0.00|0.00|25.20|25.30")
    assert [titre for *_, titre in runs(sheet)] == [25300, 25400, 25200, 25300, 25200, 25300]


def test_lines_that_may_be_students_or_runs_are_asked_about(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no column says whose readings these are"):
        read(tmp_path, "|Start|End\nAda|0.00|25.30\nBen|0.10|25.50\nCy|0.00|25.40")


@pytest.mark.parametrize("title", ["Titration|Titres in cm3", "Titres in cm3", "|Titre / cm3", "Run|Titre|Titre"])
def test_what_stands_over_the_names_of_students_across_is_a_title(tmp_path: Path, title: str) -> None:
    sheet = read(
        tmp_path, f"{title}\n|Ada|Ben\nRough|25.90|25.80\nRun 1|25.30|25.40\nRun 2|25.35|25.45\nMean|25.33|25.43"
    )
    assert list(runs_of(sheet)["titre"]) == [25900, 25300, 25350, 25800, 25400, 25450]
    assert [(one["student"], str(one["mean"])) for one in students_of(sheet).rows()] == [
        ("Ada", "25.33"),
        ("Ben", "25.43"),
    ]


def test_numbers_over_the_names_of_students_across_number_the_columns(tmp_path: Path) -> None:
    sheet = read(tmp_path, "|Student 1|Student 2\nName|Ada|Ben\nRun 1 start|0.00|0.10\nRun 1 end|25.30|25.50")
    assert runs(sheet) == [("Ada", "1", 25300), ("Ben", "1", 25400)]


@pytest.mark.parametrize("key", ["Titre|Answer", "Mean titre|% acid|Grade", "Teacher's result|0.105", "Run|0.105"])
def test_a_key_behind_an_empty_column_is_nobody_s_answer(tmp_path: Path, key: str) -> None:
    sheet = read(
        tmp_path,
        f"Name|Run 1 start|Run 1 end|Mean titre|% acid||{key}\nAda|0.00|25.30|25.30|0.101||25.20|0.104\n"
        "Ben|0.10|25.50|25.40|0.102||25.30|0.105\nCy|0.10|25.40|25.30|0.101",
    )
    assert claims(sheet) == [("Ada", "25.30", "0.101"), ("Ben", "25.40", "0.102"), ("Cy", "25.30", "0.101")]
    assert any("behind an empty column, and taken for another table" in note for note in sheet.notes)


def test_titres_of_runs_behind_an_empty_column_are_the_students_where_none_stand_before(tmp_path: Path) -> None:
    heads = "Name|Run 1 start|Run 1 end|Run 2 start|Run 2 end|Mean titre|% acid||Run 1 titre|Run 2 titre|Average"
    row = "0.00|25.30|0.10|25.50|25.35|0.101||25.30|25.40|25.35"
    sheet = read(tmp_path, f"{heads}\nAda|{row}\nBen|{row}")
    assert runs_of(sheet)["titre"] == [25300, 25400] * 2
    assert not any("behind an empty column" in note for note in sheet.notes)


def test_a_result_behind_an_empty_column_is_the_students_where_none_stands_before(tmp_path: Path) -> None:
    header = "Name|Run 1 start|Run 1 end|Mean titre||Mean titre (L)|Concentration"
    sheet = read(tmp_path, f"{header}\nAda|0.00|25.30|25.30||0.02530|0.101\nBen|0.10|25.50|25.40||0.02540|0.102")
    assert [claim[2] for claim in claims(sheet)] == ["0.101", "0.102"]


def test_what_the_teacher_names_behind_an_empty_column_is_the_students(tmp_path: Path) -> None:
    header = "Name|Run 1 start|Run 1 end|Mean|Result||Mean titre|Answer"
    lines = "Ada|0.00|25.30|25.20|0.1||25.30|0.101\nBen|0.10|25.50|25.50|0.1||25.40|0.102"
    sheet = read(tmp_path, f"{header}\n{lines}", columns={"Mean titre": "Mean titre", "Result": "Answer"})
    assert claims(sheet) == [("Ada", "25.30", "0.101"), ("Ben", "25.40", "0.102")]


def test_a_summary_with_something_else_beside_is_no_class_without_readings(tmp_path: Path) -> None:
    summary = "Name|Mean titre|Concentration|Rank\nAda|25.30|0.101|1\nBen|25.40|0.102|2"
    sheet = read(tmp_path, f"{summary}\n\nName|Run 1 start|Run 1 end\nAda|0.00|25.30\nBen|0.10|25.50")
    assert claims(sheet) == [("Ada", "25.30", "0.101"), ("Ben", "25.40", "0.102")]
    assert any("not understood and not used: 'Rank'" in note for note in sheet.notes)


@pytest.mark.parametrize(("who", "heading", "numbers"), [("Cy", "Rank", "12"), ("Ben", "Anterior", "25.40|25.30")])
def test_a_summary_may_hold_the_readings_that_nothing_else_has(
    tmp_path: Path, who: str, heading: str, numbers: str
) -> None:
    first, second = numbers.split("|") if "|" in numbers else numbers
    summary = f"Name|Mean titre|Concentration|{heading}\nAda|25.30|0.101|{first}\n{who}|25.40|0.102|{second}"
    with pytest.raises(InputError, match=f"no reading was understood; not understood: '{heading}'"):
        read(tmp_path, f"{summary}\n\nName|Run 1 start|Run 1 end\nAda|0.00|25.30\nBen|0.10|25.50")


@pytest.mark.parametrize("name", ["Teacher demo", "Demo", "Demonstration (teacher)", "Lehrerversuch"])
def test_who_shows_how_it_is_done_is_no_student(tmp_path: Path, name: str) -> None:
    sheet = read(tmp_path, f"Name|Run 1 start|Run 1 end\n{name}|0.00|25.35\nAda|0.00|25.30\nBen|0.10|25.50")
    assert [one["student"] for one in students_of(sheet).rows()] == ["Ada", "Ben"]


def test_a_unit_beside_a_result_is_no_second_one(tmp_path: Path) -> None:
    page = "Name|Ada\nReading|Rough|1|2\nStart|0.00|0.00|0.10\nEnd|25.90|25.30|25.50\nMean titre||25.35\nResult||0.101|mol/dm3"
    sheet = read(tmp_path, page)
    assert claims(sheet) == [("Ada", "25.35", "0.101")]
    assert not students_of(sheet)["notes"][0]


def test_a_group_s_number_and_its_members_stand_over_their_readings(tmp_path: Path) -> None:
    page = "{}\n|1|2\nStart|0.00|0.10\nEnd|25.30|25.50"
    sheet = read(tmp_path, "\n\n".join(map(page.format, ("Group 1: Ada B, Ben C", "Group 2: Cy D"))))
    assert [(one["student"], one["groups"]) for one in students_of(sheet).rows()] == [
        ("Ada B, Ben C", {"Group": "1"}),
        ("Cy D", {"Group": "2"}),
    ]


def test_a_group_that_stands_over_readings_is_the_student_where_nobody_is_named(tmp_path: Path) -> None:
    page = "{}\n|1|2\nStart|0.00|0.10\nEnd|25.30|25.50"
    sheet = read(tmp_path, "\n\n".join(map(page.format, ("Group 1", "Group 2"))))
    assert [one["student"] for one in students_of(sheet).rows()] == ["Group 1", "Group 2"]


@pytest.mark.parametrize(
    "heads", ["V0i|V0f|V1i|V1f|V2i|V2f", "i(r)|f(r)|i1|f1|i2|f2", "Vi r / cm3|Vf r / cm3|V_1i|V_1f|V2,i|V2,f"]
)
def test_letters_beside_the_number_of_a_run_are_its_readings(tmp_path: Path, heads: str) -> None:
    sheet = read(tmp_path, f"Name|{heads}\nAda|0.00|25.90|0.00|25.30|0.10|25.50\nBen|0.00|25.80|0.00|25.40|0.10|25.40")
    titres = (("Rough", 25900), ("1", 25300), ("2", 25400)), (("Rough", 25800), ("1", 25400), ("2", 25300))
    assert runs(sheet) == [(name, *run) for name, of in zip(("Ada", "Ben"), titres, strict=True) for run in of]


@pytest.mark.parametrize(
    "heads", ["Student 1|Student 2", "Name (A)|Name (B)", "First pupil|Second pupil", "Partner 1|Partner 2"]
)
def test_who_worked_together_is_named_together(tmp_path: Path, heads: str) -> None:
    sheet = read(tmp_path, f"{heads}|Start|End\nAda|Ben|0.00|25.30\nCy||0.10|25.50")
    assert [one["student"] for one in students_of(sheet).rows()] == ["Ada, Ben", "Cy"]
    assert "Results!B2" in sheet.ledger.used


def test_names_beside_each_other_below_one_merged_heading_are_those_of_a_group(tmp_path: Path) -> None:
    rows = [["Names", "", "Start", "End"], ["Ada", "Ben", "0.00", "25.30"], ["Cy", "", "0.10", "25.50"]]
    sheet = class_of(tmp_path, lambda page: page.merge_cells("A1:B1"), rows)
    assert [one["student"] for one in students_of(sheet).rows()] == ["Ada, Ben", "Cy"]


def test_a_partner_beside_one_student_is_a_partner_still(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Name|Partner 1|Partner 2|Start|End\nAda|Ben|Cy|0.00|25.30\nDee|Ed|Flo|0.10|25.50")
    assert [one["student"] for one in students_of(sheet).rows()] == ["Ada", "Dee"]


def test_the_same_titre_a_second_time_is_passed_over_and_another_is_asked_about(tmp_path: Path) -> None:
    table = (
        "Name|Run 1 start|Run 1 end|Run 1 titre|Run 1 titre (2 dp)\nAda|0.00|25.30|25.3|25.30\nBen|0.10|25.50|25.4|{}"
    )
    assert runs(read(tmp_path, table.format("25.40"))) == [("Ada", "1", 25300), ("Ben", "1", 25400)]
    with pytest.raises(InputError, match="two columns seem to be the same thing"):
        read(tmp_path, table.format("25.45"))


@pytest.mark.parametrize("words", ["Number of students", "No. of students", "Anzahl der Schüler"])
def test_how_many_students_there_are_is_no_student(tmp_path: Path, words: str) -> None:
    sheet = read(tmp_path, f"Name|Start|End|Mean\nAda|0.00|25.30|25.30\nBen|0.10|25.50|25.40\n{words}|||2")
    assert [one["student"] for one in students_of(sheet).rows()] == ["Ada", "Ben"]


@pytest.mark.parametrize("corner", ["Run", "Titration no.", "Student", ""])
@pytest.mark.parametrize("titre", [True, False])
def test_names_over_both_readings_of_runs_that_stand_below_each_other(tmp_path: Path, corner: str, titre: bool) -> None:
    reading = {"Rough": ("0.00|25.90|25.90", "0.00|25.80|25.80"), "1": ("0.00|25.30|25.30", "0.10|25.50|25.40")}
    ends = 3 if titre else 2
    heads = "|".join(("Start", "End", "Titre")[:ends])
    rows = [f"{corner}|Ada{'|' * ends}Ben{'|' * (ends - 1)}", f"|{heads}|{heads}"]
    rows += ["|".join((run, *("|".join(of.split("|")[:ends]) for of in both))) for run, both in reading.items()]
    assert runs(read(tmp_path, "\n".join(rows))) == [
        *(("Ada", "Rough", 25900), ("Ada", "1", 25300)),
        *(("Ben", "Rough", 25800), ("Ben", "1", 25400)),
    ]


def test_a_line_of_labels_with_their_values_over_a_table_heads_no_run(tmp_path: Path) -> None:
    table = "Name|Trial titre|Titre 1|Titre 2|Mean\nAda|25.90|25.30|25.35|25.33\nBen|25.80|25.40|25.45|25.43"
    sheet = read(tmp_path, f"Class: 12C|Date:|12/03/26\n{table}")
    assert list(runs_of(sheet)["titre"]) == [25900, 25300, 25350, 25800, 25400, 25450]


RUNS_APART = "Name|Run 1 start|Run 1 end|Run 2 start|Run 2 end|Mean\nAda|0.00|25.30|0.10|25.45|25.33\nBen|0.10|25.50|0.20|25.65|25.43"


@pytest.mark.parametrize("means", [("25.33", "25.43"), ("25.325", "25.425")])
def test_a_mean_that_a_chart_s_table_calls_titre_is_none_of_run_1(tmp_path: Path, means: tuple[str, str]) -> None:
    sheet = read(tmp_path, f"{RUNS_APART}\n\nName|Titre\nAda|{means[0]}\nBen|{means[1]}")
    assert {run["titre"] for run in runs_of(sheet).rows()} == {None}
    assert "the mean titre" in sheet.ledger.ignored["Results!B6"]


def test_a_titre_of_which_of_several_runs_nobody_knows_is_asked_about_and_read_when_told(tmp_path: Path) -> None:
    apart = "Name|{}\nAda|25.60\nBen|25.70"
    with pytest.raises(InputError, match=r"cell B6: nothing says which run this titre is of.*Run 3 titre"):
        read(tmp_path, f"{RUNS_APART}\n\n{apart.format('Titre')}")
    assert len(runs_of(read(tmp_path, f"{RUNS_APART}\n\n{apart.format('Run 3 titre')}")).rows()) == 6


def test_an_example_with_somebody_s_name_is_nobody(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Name|Start|End\ne.g. Jo Sample|0.00|25.35\nAda|0.00|25.30\nJo Sample|0.10|25.50")
    assert [one["student"] for one in students_of(sheet).rows()] == ["Ada", "Jo Sample"]


def test_a_mean_and_a_result_behind_their_labels_below_runs_are_no_runs(tmp_path: Path) -> None:
    page = "{}\n|Initial|Final|Titre\nRough|0.00|25.90|25.90\n1|0.00|25.30|25.30\n2|0.10|25.50|25.40\n||Mean|25.35\n||Result|0.101"
    sheet = read(tmp_path, "\n\n".join(map(page.format, ("Ada Lee", "Ben Oz"))))
    assert claims(sheet) == [("Ada Lee", "25.35", "0.101"), ("Ben Oz", "25.35", "0.101")]
    assert list(runs_of(sheet)["label"]) == ["Rough", "1", "2"] * 2


@pytest.mark.parametrize("start", ["Intial", "inital", "begining"])
def test_usual_slips_of_the_pen_in_a_heading_are_read(tmp_path: Path, start: str) -> None:
    sheet = read(tmp_path, f"Name|Run 1 {start}|Run 1 finial|Run 1 tittre|Averge\nAda|0.10|25.40|25.30|25.30")
    assert (runs(sheet), str(students_of(sheet)["mean"][0])) == ([("Ada", "1", 25300)], "25.30")


def test_a_word_beside_a_final_reading_is_asked_about_whatever_else_is_not_understood(tmp_path: Path) -> None:
    rows = "Ada|0.75|26.05|0.75|26.15|25.35|7\nBen|0.00|25.30|0.75|26.10|25.33|8"
    with pytest.raises(InputError, match="'Run 1 Anfng' may be the initial reading of run 1, or its titre"):
        read(tmp_path, f"Name|Run 1 Anfng|Run 1 final|Run 2 Anfng|Run 2 final|Mean|Luck\n{rows}")


def test_points_to_be_had_are_no_student_s(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Name|Start|End|Mean\nPoints possible|||2\nAda|0.00|25.30|25.30\nBen|0.10|25.50|25.40")
    assert [one["student"] for one in students_of(sheet).rows()] == ["Ada", "Ben"]


LABELLED = "|Initial|Final|Titre\nRough|0.00|25.90|25.90\n{}|0.00|25.30|25.30\n{}|0.10|25.50|25.40"


@pytest.mark.parametrize("more", ["", "\n||Mean|25.35", "\nMean|||25.35", "\n\nMean|||25.35"])
@pytest.mark.parametrize("labels", [("1", "2"), ("", "")])
def test_a_rough_is_one_whether_the_runs_below_it_and_their_mean_are_labelled_or_not(
    tmp_path: Path, more: str, labels: tuple[str, str]
) -> None:
    sheet = read(tmp_path, f"Ada Lee\n{LABELLED.format(*labels)}{more}")
    assert list(zip(runs_of(sheet)["label"], runs_of(sheet)["kind"], strict=True)) == [
        *(("Rough", "rough"), ("1", "accurate"), ("2", "accurate"))
    ]


@pytest.mark.parametrize(
    "table", [LABELLED.format("1", "2"), LABELLED.format("", ""), "Run|Titre||\nRough|25.90||\n1|25.30||\n2|25.40||"]
)
def test_a_number_alone_below_titres_is_no_run_but_asked_about(tmp_path: Path, table: str) -> None:
    mean = "|25.35" if "Run" in table else "|||25.35"
    with pytest.raises(InputError, match="nothing says what this number below the titres is; write Mean"):
        read(tmp_path, f"Ada Lee\n{table}\n{mean}")
    assert str(students_of(read(tmp_path, f"Ada Lee\n{table}\nMean{mean}"))["mean"][0]) == "25.35"


def test_marks_called_t1_and_t2_are_no_titres(tmp_path: Path) -> None:
    table = "Name|1 i|1 f|2 i|2 f|Mean|Result|T1|T2"
    rows = [f"{name}|0.00|25.30|0.10|25.50|25.35|0.101|8|{mark}" for mark, name in enumerate(("Ada", "Ben", "Cy"), 7)]
    sheet = read(tmp_path, "\n".join((table, *rows)))
    assert {run["titre"] for run in runs_of(sheet).rows()} == {None}
    assert any("not understood and not used: 'T1' (column H), 'T2' (column I)" in note for note in sheet.notes)


def test_class_10a_and_a_date_over_readings_name_no_run(tmp_path: Path) -> None:
    page = "Name|{}\nClass|10A\nDate|12/3\n\n|Trial|Run 1|Run 2\nStart|0.00|0.00|0.10\nEnd|25.90|25.30|25.50"
    sheet = read(tmp_path, "\n\n".join(map(page.format, ("Ada Lee", "Ben Oz"))))
    assert runs(sheet) == [
        (name, *run) for name in ("Ada Lee", "Ben Oz") for run in (("Rough", 25900), ("1", 25300), ("2", 25400))
    ]


def test_a_remark_on_a_colour_is_no_key_of_colours(tmp_path: Path) -> None:
    table = (
        "Key: green = used\nName|Start|End|Comment\nAda|0.00|25.30|colour too dark\nBen|0.10|25.50|\ngreen means used"
    )
    sheet = read(tmp_path, table)
    assert sheet.ledger.ignored["Results!A1"] == "a key of colours or signs"
    assert "beside the readings" in sheet.ledger.ignored["Results!D3"]
    assert [one["student"] for one in students_of(sheet).rows()] == ["Ada", "Ben"]


@pytest.mark.parametrize("heading", ["Run", "Sample", "Titration"])
def test_a_blank_among_the_runs_is_neither_a_run_nor_a_rough(tmp_path: Path, heading: str) -> None:
    header = f"Name|{heading}|Start|End"
    sheet = read(
        tmp_path, f"{header}\nAda|Blank|0.00|0.15\n|1|0.15|20.45\n|2|0.00|20.25\nBen|Blank|0.00|0.10\n|1|0.10|20.40"
    )
    assert runs(sheet) == [("Ada", "1", 20300), ("Ada", "2", 20250), ("Ben", "1", 20300)]
    assert "a blank" in sheet.ledger.ignored["Results!C2"]


def test_a_mean_that_is_not_taken_is_not_said_to_be(tmp_path: Path) -> None:
    sheet = read(
        tmp_path,
        "Name|Run 1 start|Run 1 end|Mean|Mean minus blank\nAda|0.00|25.30|25.30|25.15\nBen|0.10|25.50|25.40|25.25",
    )
    assert [line for line in sheet.understood if "Mean titre" in line] == ["Mean titre: 'Mean' (column D)"]
