"""What headers say, in the wordings of real laboratory sheets, and what is done where they leave something open."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from labmark.problems import InputError
from labmark.read import read_class
from labmark.read.headers import understand
from labmark.read.own_numbers import named, result_of_run
from labmark.records import ClassSheet
from tests.columns import runs_of, students_of
from tests.seeds import few_quick
from tests.test_read_workbook import class_of

# header -> field, kind of run, number of the run
HEADERS = {
    "Student": ("student", "", None),
    "Name of pupil": ("student", "", None),
    "What is your full name?": ("student", "", None),
    "Candidate no.": ("code", "", None),
    "E-mail address": ("address", "", None),
    "Surname": ("surname", "", None),
    "Initial burette reading / cm³": ("initial", "", None),
    "initial burette reading 1 / cm3": ("initial", "", 1),
    "start vol": ("initial", "", None),
    "Start reading (mL)": ("initial", "", None),
    "final (mL)": ("final", "", None),
    "Final burette reading / cm³ ± 0.05": ("final", "", None),
    "Rough initial": ("initial", "rough", None),
    "ROUGH FINAL": ("final", "rough", None),
    "Rough V1 (mL)": ("initial", "rough", None),
    "Run 2 V2": ("final", "accurate", 2),
    "ΔV 2. Versuch": ("titre", "accurate", 2),
    "titre": ("titre", "", None),
    "Titres out of 5": ("ignored", "", 5),
    "Titration 1 (out of 3)": ("value", "accurate", 1),
    "Mean titre (/2)": ("ignored", "", 2),
    "Mean titre (2 marks)": ("mean", "", None),
    "Titration 1 final [1 mark]": ("final", "accurate", 1),
    "Time taken for titration 1": ("ignored", "accurate", 1),
    "What is your mean titre? Give your answer to 2 decimal places": ("mean", "", None),
    "Mean titre - your answer": ("mean", "", None),
    "Mean of your concordant results / cm³": ("mean", "", None),
    "Wie groß ist der Mittelwert? Gib dein Ergebnis in cm³ an.": ("mean", "", None),
    "Use your mean titre to calculate the concentration. Give your answer to 3 s.f.": ("result", "", None),
    "Mean result": ("result", "", None),
    "Final mean titre / cm³": ("mean", "", None),
    "Final average": ("mean", "", None),
    "Actual conc. / mol dm-3": ("result", "", None),
    "Mass (mg) run 2": ("own", "accurate", 2),
    "Value of c": ("result", "", None),
    "Result from your mean titre": ("result", "", None),
    "Use your mean titre to calculate your answer in mol/dm³": ("result", "", None),
    "From your mean titre, what is your answer?": ("result", "", None),
    "Berechne mit dem Mittelwert das Ergebnis": ("result", "", None),
    "Mean of results / mol dm-3": ("result", "", None),
    "What is the mean of your titres? Give your answer to 2 d.p.": ("mean", "", None),
    "Partner's titre": ("ignored", "", None),
    "Titer Partnerin": ("ignored", "", None),
    "Nombre de gouttes": ("ignored", "", None),
    "Nombre del alumno": ("student", "", None),
    "Partner's mean titre / cm³": ("ignored", "", None),
    "Partner's result": ("ignored", "", None),
    "Titration 1 titre (partner A)": ("titre", "accurate", 1),
    "Volume versé avec la burette": ("titre", "", None),
    "Best titre / cm³": ("ignored", "", None),
    "Bester Verbrauch": ("ignored", "", None),
    "Best titres": ("used", "", None),
    "Concordant results": ("used", "", None),
    "Best titre 1 / cm³": ("titre", "", 1),
    "Best titre 2 final": ("final", "", 2),
    "Best titre (mean)": ("mean", "", None),
    "Two closest titres": ("used", "", None),
    "Quels dosages avez-vous retenus ?": ("used", "", None),
    "¿Qué valoraciones usaste para la media?": ("used", "", None),
    "Titre 2 / cm³": ("titre", "", 2),
    "volume used": ("titre", "", None),
    "Volume of NaOH used / cm³": ("volume", "", None),
    "Volume of titrant used in titration 3 (cm³)": ("titre", "accurate", 3),
    "final − initial": ("titre", "", None),
    "Vf - Vi (mL)": ("titre", "", None),
    "1. Titration": ("value", "accurate", 1),
    "2. Versuch Ende": ("final", "accurate", 2),
    "4. Titration 1: initial reading": ("initial", "accurate", 1),
    "R i": ("initial", "rough", None),
    "R t": ("titre", "rough", None),
    "R I": ("value", "accurate", 1),
    "T2 f": ("final", "accurate", 2),
    "/5": ("ignored", "", 5),
    "V2 - V1": ("titre", "", None),
    "Vini (mL)": ("initial", "", None),
    "Vfin (mL)": ("final", "", None),
    "V medio": ("mean", "", None),
    "Alumno/a": ("student", "", None),
    "rough": ("value", "rough", None),
    "range-finder": ("value", "rough", None),
    "trial": ("run", "", None),
    "Trial 2": ("value", "", 2),
    "accurate 1": ("value", "accurate", 1),
    "Titration 2": ("value", "accurate", 2),
    "Titration no. 3": ("value", "accurate", 3),
    "Run II": ("value", "accurate", 2),
    "Run B": ("value", "accurate", 2),
    "2nd titration": ("value", "accurate", 2),
    "Initial reading of your second accurate titration, in cm³": ("initial", "accurate", 2),
    "Only after your last titration: mean titre": ("mean", "", None),
    "After your last run: what result did you calculate?": ("result", "", None),
    "Your last titration: final reading": ("final", "", None),
    "Mean final reading": ("ignored", "", None),
    "Run 1 used": ("used", "accurate", 1),
    "Tick if concordant": ("used", "", None),
    "Did you use your third titration in the mean?": ("used", "accurate", 3),
    "Mean titre": ("mean", "", None),
    "Mean titre minus blank / cm³": ("mean", "", None),
    "Run 1 titre (less the blank)": ("titre", "accurate", 1),
    "Mean concentration": ("result", "", None),
    "mean c": ("result", "", None),
    "c2": ("result", "", 2),
    "Run c": ("value", "accurate", 3),
    "m2 / g": ("own", "", 2),
    "Average volume used (mL)": ("mean", "", None),
    "V\u0304 / cm³": ("mean", "", None),
    "x\u0304": ("mean", "", None),
    "V(av)": ("mean", "", None),
    "Ø Verbrauch (mL)": ("mean", "", None),
    "Mean initial reading": ("ignored", "", None),
    "Result": ("result", "", None),
    "Concentration of NaOH / mol dm-3": ("result", "", None),
    "Concentration of H2SO4": ("result", "", None),
    "[HCl] / mol L-1": ("result", "", None),
    "c(HCl) in mol/l": ("result", "", None),
    "[NaOH] (M)": ("result", "", None),
    "[Ca2+] / mmol L⁻¹": ("result", "", None),
    "c / mol·dm⁻³": ("result", "", None),
    "C (M)": ("result", "", None),
    "Result (mg/L)": ("result", "", None),
    "Hardness / mg L-1 CaCO3": ("result", "", None),
    "% acid": ("result", "", None),
    "mass % Fe": ("result", "", None),
    "x in Na2CO3.xH2O": ("result", "", None),
    "M_r of the acid": ("result", "", None),
    "Titre / mL L-1": ("titre", "", None),
    "Absolute uncertainty": ("ignored", "", None),
    "±": ("ignored", "", None),
    "% error": ("ignored", "", None),
    "Standard deviation": ("ignored", "", None),
    "Colour at the end point": ("ignored", "", None),
    "25.0 cm3 pipette": ("own", "", None),
    "Mass / g": ("own", "", None),
    "Run 2 mass": ("own", "accurate", 2),
    "Pesée 1 (g)": ("own", "", 1),
    "Mean mass": ("ignored", "", None),
    "Mass per tablet / g": ("own", "", None),
    "Mass of iron per tablet / mg": ("result", "", None),
    "Iron in one tablet (mg)": ("result", "", None),
    "Molar mass": ("result", "", None),
    "Masse molaire": ("result", "", None),
    "Percentage by mass": ("result", "", None),
    "% Cu by mass": ("result", "", None),
    "Mass of NaOH / g dm-3": ("result", "", None),
    "Timestamp": ("ignored", "", None),
    "Bench": ("group", "", None),
    "Group colour": ("group", "", None),
    "Anfangsstand 1 / mL": ("initial", "", 1),
    "Endstand Grobtitration": ("final", "rough", None),
    "Grobversuch Anfang": ("initial", "rough", None),
    "Stand vor Titration 2": ("initial", "accurate", 2),
    "Bürettenstand nach der Titration 2": ("final", "accurate", 2),
    "Average of concordant results / cm3": ("mean", "", None),
    "Mean concentration of acid / mol dm-3 (25 cm3)": ("result", "", None),
    "Correct answer": ("ignored", "", None),
    "Verbrauch (mL)": ("titre", "", None),
    "Mittelwert": ("mean", "", None),
    "Élève": ("student", "", None),
    "Lecture finale, dosage 2": ("final", "accurate", 2),
    "Volume équivalent": ("titre", "", None),
    "Lectura inicial de la bureta, valoración 1": ("initial", "accurate", 1),
    "Volumen gastado": ("titre", "", None),
    "Final conc NaOH": ("result", "", None),
    "6) c(NaOH)": ("result", "", None),
    "C_NaOH": ("result", "", None),
    "Result (3 s.f.)": ("result", "", None),
    "Final answer (3 sf) / mol dm-3": ("result", "", None),
    "Concentration to 3 significant figures": ("result", "", None),
    "Mean titre (2 d.p.)": ("mean", "", None),
    "Mean titre to 2 decimal places / cm3": ("mean", "", None),
    "Mittelwert (2 Nachkommastellen)": ("mean", "", None),
    "c(NaOH) (3 gült. Ziffern)": ("result", "", None),
    "c(NaOH) auf 3 Stellen": ("result", "", None),
    "Ethanoic acid / % v/v": ("result", "", None),
    "C(NaOH) avec 3 CS": ("result", "", None),
    "Run 2 final (2 d.p.)": ("final", "accurate", 2),
    "Final reading to 2 d.p., run 2": ("final", "", 2),
    "c en mol/L": ("result", "", None),
    "Orientierende Titration: Anfang": ("initial", "rough", None),
    "Approximatif": ("value", "rough", None),
    "Shoe size": ("", "", None),
    "H2SO4": ("", "", None),
}


@pytest.mark.parametrize("text", HEADERS)
def test_a_header_is_understood(text: str) -> None:
    header = understand(text)
    assert (header.field, header.kind, header.number) == HEADERS[text]


@pytest.mark.parametrize(
    ("text", "scale"),
    [
        ("Titre / cm³", 1000),
        ("final (mL)", 1000),
        ("start vol / dm³", 1_000_000),
        ("Titre (L)", 1_000_000),
        ("V final en mL", 1000),
        ("Titre", None),
    ],
)
def test_the_unit_of_a_header_is_found(text: str, scale: int | None) -> None:
    assert understand(text).scale == scale


@pytest.mark.parametrize("above", ["Titres to 2 decimal places", "Titres, e.g. 24.40", "Titres (2 d.p.)"])
@pytest.mark.parametrize(("below", "run"), [("Rough", ("rough", None)), ("1", ("", 1)), ("Run 3", ("accurate", 3))])
def test_what_is_asked_over_a_heading_leaves_its_run(above: str, below: str, run: tuple[str, int | None]) -> None:
    header = understand((above, below))
    assert (header.field, header.kind, header.number) == ("titre", *run)


def test_an_apostrophe_makes_no_litre_of_an_article() -> None:
    assert understand("Volume à l'équivalence 1").scale is None
    assert understand("Volume à l’équivalence 1 (mL)").scale == 1000


def test_headings_over_each_other_are_taken_together() -> None:
    assert understand(("Titration 2", "Burette reading / cm³", "final")).field == "final"
    assert understand(("Titration 2", "Burette reading / cm³", "final")).number == 2


# -- what the cells decide --------------------------------------------------------------------------------------------


def read(folder: Path, text: str, **how: Any) -> ClassSheet:
    return class_of(
        folder, rows=[[cell.strip() for cell in line.split("|")] for line in text.strip().splitlines()], **how
    )


def titres(sheet: ClassSheet) -> list[tuple[str, object, object, object]]:
    return [
        (row["label"], *(None if row[key] is None else row[key] / 1000 for key in ("initial", "final", "titre")))
        for row in runs_of(sheet).rows()
    ]


def test_v1_and_v2_far_apart_are_readings(tmp_path: Path) -> None:
    assert titres(read(tmp_path, "Student|V1|V2\nA|0.00|24.40\nB|0.10|24.50")) == [
        ("1", 0.0, 24.4, None),
        ("1", 0.1, 24.5, None),
    ]


def test_v1_and_v2_close_together_are_titres(tmp_path: Path) -> None:
    assert titres(read(tmp_path, "Student|V1|V2\nA|24.50|24.40")) == [("1", None, None, 24.5), ("2", None, None, 24.4)]


@pytest.mark.parametrize(
    "heading",
    ["How confident are you? (1-5)", "Effort / 5", "Difficulty (1 = easy, 5 = hard)", "Question 1", "Rate 1 to 5"],
)
def test_small_whole_numbers_under_a_heading_that_is_not_understood_are_no_titres(tmp_path: Path, heading: str) -> None:
    heads = f"Student|Run 1 initial|Run 1 final|Run 2 initial|Run 2 final|{heading}"
    sheet = read(
        tmp_path, f"{heads}\nA|0.00|24.40|0.10|24.55|4\nB|0.00|24.45|0.10|24.50|2\nC|0.00|24.45|0.10|24.50|5 - very"
    )
    assert list(runs_of(sheet)["titre"]) == [None] * 6
    assert any("not understood and not used" in note for note in sheet.notes)


def test_volumes_under_a_heading_that_is_not_understood_but_for_its_number_are_titres(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Student|Prova 1|Prova 2|Mean titre\nA|24.40|24.50|24.45\nB|24|24.45|24.45")
    assert list(runs_of(sheet)["titre"]) == [24400, 24500, 24000, 24450]


@pytest.mark.parametrize("below", ["|I|F|I|F", "|A|E|A|E", "", "|x|y|x|y"])
def test_a_runs_name_over_two_columns_without_headings_heads_its_readings(tmp_path: Path, below: str) -> None:
    rows = ["A|0.10|24.50|0.20|24.65|24.43", "B|24.50|48.95|0.00|24.40|24.43"]
    sheet = read(tmp_path, "\n".join(["Student|Run 1||Run 2||Mean titre", *([below] if below else []), *rows]))
    assert [*zip(runs_of(sheet)["initial"], runs_of(sheet)["final"], runs_of(sheet)["titre"], strict=True)] == [
        (100, 24_500, None),
        (200, 24_650, None),
        (24_500, 48_950, None),
        (0, 24_400, None),
    ]


def test_a_runs_name_over_three_columns_without_headings_heads_readings_and_titre(tmp_path: Path) -> None:
    heads = "Student|Rough|||Run 1|||Mean titre\n|I|F|D|I|F|D"
    sheet = read(tmp_path, f"{heads}\nA|0|25.10|25.10|0.20|24.65|24.45|24.45\nB|1|26.10|25.10|0.00|24.40|24.40|24.40")
    assert list(runs_of(sheet)["titre"]) == [25_100, 24_450, 25_100, 24_400]
    assert list(runs_of(sheet)["initial"]) == [0, 200, 1_000, 0]


@pytest.mark.parametrize("rows", ["A|24.40|24.50|24.45|24.50", "A|24.40|0.50|1.00|24.45|1.50|7.50"])
def test_columns_under_a_runs_name_that_may_be_anything_are_asked_about(tmp_path: Path, rows: str) -> None:
    gap = "|" * (rows.count("|") // 2)
    with pytest.raises(
        InputError, match=r"cell B1: 'Run 1' stands over columns .*; write Initial, Final or Titre over"
    ):
        read(tmp_path, f"Student|Run 1{gap}Run 2{gap}Mean titre\n{rows}|24.45\n{rows.replace('A', 'B')}|24.45")


@pytest.mark.parametrize(
    ("heads", "rough"),
    [
        ("Student|Rough|Run 1||Run 2|", "25.10"),
        ("Student|Rough||Run 1|||Run 2||", "0.00|25.10"),
    ],
)
def test_the_columns_under_each_runs_name_are_told_by_themselves(tmp_path: Path, heads: str, rough: str) -> None:
    titres = ("|24.40", "|24.45") if heads.count("|") > 6 else ("", "")
    runs = "|".join((f"0.10|24.50{titres[0]}", f"0.20|24.65{titres[1]}"))
    sheet = read(tmp_path, f"{heads}|Mean titre\nA|{rough}|{runs}|24.43\nB|{rough}|{runs}|24.43")
    assert list(runs_of(sheet)["final"])[1:3] == [24_500, 24_650]
    assert list(runs_of(sheet)["titre"])[1:3] == ([24_400, 24_450] if titres[0] else [None, None])
    assert (runs_of(sheet)["titre"][0], runs_of(sheet)["final"][0]) == (
        (25_100, None) if rough == "25.10" else (None, 25_100)
    )


def test_a_number_beside_the_titre_of_one_run_alone_is_no_reading(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Student|Run 1||Run 2|Mean titre\nA|24.40|3|24.50|24.45\nB|24.45|4|24.45|24.45")
    assert list(runs_of(sheet)["titre"]) == [24_400, 24_500, 24_450, 24_450]


@pytest.mark.parametrize("letters", ["IF", "FI", "IFT", "FIT"])
def test_letters_over_one_another_label_the_readings_of_a_block(tmp_path: Path, letters: str) -> None:
    readings = {"I": "0.10|0.20", "F": "24.50|24.65", "T": "24.40|24.45"}
    block = "\n".join(f"{letter}|{readings[letter]}" for letter in letters)
    sheet = read(tmp_path, "\n\n".join(f"Name|{who}\n|1|2\n{block}\nMean titre|24.43" for who in ("Ann", "Ben")))
    assert list(students_of(sheet)["student"]) == ["Ann", "Ben"]
    assert list(runs_of(sheet)["final"]) == [24_500, 24_650] * 2
    assert list(runs_of(sheet)["titre"]) == ([24_400, 24_450] if "T" in letters else [None, None]) * 2


@pytest.mark.parametrize(
    "heading",
    ["Mean of 3 titres", "Average (2 concordant)", "Mean (best 2)", "Durchschnitt (2 Werte)", "Table 1 mean titre"],
)
def test_the_only_mean_is_of_no_one_run_whatever_number_stands_in_its_heading(tmp_path: Path, heading: str) -> None:
    heads = f"Student|Run 1 titre|Run 2 titre|Run 3 titre|{heading}"
    sheet = read(tmp_path, f"{heads}\nA|24.40|24.50|24.45|24.45\nB|24.45|24.45|24.40|24.43")
    assert [str(mean) for mean in students_of(sheet)["mean"]] == ["24.45", "24.43"]


def test_a_heading_that_is_not_understood_beside_a_final_reading_is_asked_about(tmp_path: Path) -> None:
    rows = ["A|0.10|24.50|24.40|0.20|24.65|24.45|24.43", "B|0.20|24.60|24.40|0.20|24.60|24.40|24.40"]
    heads = "Student|Run 1 St|Run 1 End|Run 1 Vol|Run 2 St|Run 2 End|Run 2 Vol|Mean titre"
    with pytest.raises(InputError, match="'Run 1 St' may be the initial reading of run 1, or its titre"):
        read(tmp_path, "\n".join([heads, *rows]))
    sheet = read(tmp_path, "\n".join([heads.replace("St|", "begin|"), *rows]))
    assert list(runs_of(sheet)["initial"]) == [100, 200, 200, 200]


def test_what_is_the_initial_reading_and_the_titre_together_is_the_final_one(tmp_path: Path) -> None:
    lines = ["Ada|1|0.00|25.30|25.30", "Ada|2|1.00|26.35|25.35", "Ben|1|0.50|25.80|25.30", "Ben|2|0.10|25.45|25.35"]
    sheet = read(tmp_path, "\n".join(("Nom|Essai|V0 (mL)|Ve (mL)|Véq (mL)", *lines)))
    assert runs_of(sheet)["final"] == [25300, 26350, 25800, 25450]
    lines[1] = "Ada|2|1.00|26.35|26.35"
    asked = r"not understood: 'Ve \(mL\)' \(column D\); say what they are .* e.g. \"Final\" = \"Ve \(mL\)\""
    with pytest.raises(InputError, match=asked):
        read(tmp_path, "\n".join(("Nom|Essai|V0 (mL)|Ve (mL)|Véq (mL)", *lines)))


def test_v1_v2_and_v3_are_titres(tmp_path: Path) -> None:
    assert [row[0] for row in titres(read(tmp_path, "Student|V1|V2|V3\nA|24.50|24.40|24.45"))] == ["1", "2", "3"]


def test_v1_and_v2_that_may_be_either_are_refused_with_what_to_write(tmp_path: Path) -> None:
    with pytest.raises(
        InputError,
        match=r'cell B1: V1 and V2 may be the two readings of a run, or two titres; say which, e\.g\. "Initial" = "V1"',
    ):
        read(tmp_path, "Student|V1|V2\nA|24.50|24.40\nB|0.00|24.40")


def test_a_trial_beside_numbered_runs_is_the_rough(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Student|Trial|Titration 1|Titration 2\nA|24.90|24.40|24.45")
    assert list(zip(runs_of(sheet)["label"], runs_of(sheet)["kind"], strict=True)) == [
        ("Rough", "rough"),
        ("1", "accurate"),
        ("2", "accurate"),
    ]


def test_trials_without_a_rough_among_them_are_ordinary_runs(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Student|Trial 1|Trial 2|Trial 3\nA|24.90|24.40|24.45")
    assert list(runs_of(sheet)["kind"]) == ["accurate"] * 3


def test_the_first_of_several_unnamed_runs_is_not_taken_for_the_rough(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Student|Initial|Final|Initial|Final\nA|0.00|26.90|0.00|24.45")
    assert list(runs_of(sheet)["kind"]) == ["accurate"] * 2


def test_a_constant_volume_beside_titres_is_no_run(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Student|Volume of NaOH (cm3)|Titre 1|Titre 2\nA|25.00|24.40|24.45")
    assert titres(sheet) == [("1", None, None, 24.4), ("2", None, None, 24.45)]
    assert any("not understood and not used: 'Volume of NaOH (cm3)' (column B)" in note for note in sheet.notes)


def test_what_may_be_a_final_reading_or_a_titre_is_asked_for(tmp_path: Path) -> None:
    heads = "Student|V0 run 1|V run 1|V0 run 2|V run 2"
    with pytest.raises(InputError, match=r"final reading of run 1, or its titre; say which, e\.g\. .Run 1 final"):
        read(tmp_path, f"{heads}\nA|0.00|24.40|0.10|24.50\nB|0.35|24.80|0.00|24.45")
    assert titres(read(tmp_path, f"{heads}\nA|0.00|24.40|0.00|24.50\nB|0.00|24.40|0.00|24.45"))[0][3] == 24.4


def test_a_volume_that_is_the_difference_of_the_readings_is_the_titre(tmp_path: Path) -> None:
    assert titres(read(tmp_path, "Student|Initial|Final|Volume\nA|0.00|24.40|24.40\nB|0.10|24.50|24.40"))[0] == (
        "1",
        0.0,
        24.4,
        24.4,
    )


@pytest.mark.parametrize("at", [1, 4])
def test_the_factor_of_the_solution_is_nobodys_titre(tmp_path: Path, at: int) -> None:
    lines = [
        "Name|Titration|Anfang|Ende",
        "Ada|1|0.00|24.40",
        "Ada|2|0.10|24.45",
        "Ben|1|0.00|24.35",
        "Ben|2|1.00|25.40",
    ]
    cells = [line.split("|") for line in lines]
    rows = [[*line[:at], more, *line[at:]] for line, more in zip(cells, ["Titer", *["0.998"] * 4], strict=True)]
    sheet = read(tmp_path, "\n".join(map("|".join, rows)))
    assert [run.written for one in sheet.students for run in one.runs] == [None] * 4


def test_one_tick_column_for_several_runs_ticks_none_of_them(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Student|Rough|Titre 1|Titre 2|Concordant?\nA|24.90|24.40|24.45|yes")
    assert set(runs_of(sheet)["ticked"]) == {None}


@pytest.mark.parametrize("asks", ["OK?", "✓", "se usa"])
def test_a_column_of_ticks_beside_a_titre_is_known_by_its_cells(tmp_path: Path, asks: str) -> None:
    header = (
        f"Student|Run 1 initial|Run 1 final|Run 1 titre|Run 1 {asks}|Run 2 initial|Run 2 final|Run 2 titre|Run 2 {asks}"
    )
    sheet = read(tmp_path, f"{header}\nA|0.00|24.40|24.40|x|0.00|24.90|24.90|\nB|0.00|24.40|24.40|x|0.00|24.45|24.45|x")
    assert list(runs_of(sheet)["ticked"]) == [True, False, True, True]
    nobody = read(tmp_path, f"{header}\nA|0.00|24.40|24.40||0.00|24.90|24.90|")
    assert (list(runs_of(nobody)["titre"]), list(runs_of(nobody)["ticked"])) == ([24400, 24900], [None, None])


def test_ticks_in_a_column_headed_conc_are_no_results(tmp_path: Path) -> None:
    of_runs = read(tmp_path, "Student|Run|Initial|Final|Conc?\nA|1|0.00|24.90|\nA|2|0.00|24.40|✓\nA|3|0.00|24.45|✓")
    assert list(runs_of(of_runs)["ticked"]) == [False, True, True]
    wide = read(tmp_path, "Student|Run 1 titre|Run 1 conc.|Run 2 titre|Run 2 conc.\nA|24.40|x|24.45|x")
    assert list(runs_of(wide)["ticked"]) == [True, True]


def test_where_one_tick_of_a_student_cannot_be_read_none_says_which_runs_were_used(tmp_path: Path) -> None:
    header = "Student|Run 1 titre|Run 1 used|Run 2 titre|Run 2 used|Run 3 titre|Run 3 used"
    sheet = read(tmp_path, f"{header}\nA|24.40|x|24.45|y|24.40|y\nB|24.40|y|24.45|y|24.90|")
    assert list(runs_of(sheet)["ticked"]) == [None, None, None, True, True, False]


def test_a_form_that_is_sent_in_for_each_run_asks_which_one_it_is(tmp_path: Path) -> None:
    rows = (
        "Your name|Which titration is this?|Start|End\nA|Rough|0.00|24.90\nB|Rough|0.10|24.80\nA|Accurate 1|0.00|24.40"
    )
    assert titres(read(tmp_path, rows)) == [("Rough", 0, 24.9, None), ("1", 0, 24.4, None), ("Rough", 0.1, 24.8, None)]


@pytest.mark.parametrize("heading", few_quick(["Runs used", "Titres used in mean", "Used"], 3))
@pytest.mark.parametrize(
    ("listed", "ticked"),
    [
        ("1,2", [False, True, True, False]),
        ("1 and 3", [False, True, False, True]),
        ("runs 2+3", [False, False, True, True]),
        ("1st & 2nd", [False, True, True, False]),
        ("Run 1 to Run 3", [False, True, True, True]),
        ("1 to 3", [False, True, True, True]),
        ("2", [False, False, True, False]),
        ("rough, 1", [True, True, False, False]),
        ("1-3", None),
        ("24.30 and 24.40", [False, True, True, False]),
        ("24.30; 24.35 cm³", [False, True, False, True]),
        ("24.30, 24.30", None),
        ("24.30 and 24.55", None),
        ("1 and 4", None),
        ("2.3", [False, False, True, True]),
    ],
)
def test_a_list_of_the_runs_used_ticks_them(
    tmp_path: Path, heading: str, listed: str, ticked: list[bool] | None
) -> None:
    rows = f"A|24.90|24.30|24.40|24.35|{listed}\nB|24.90|24.30|24.40|24.35|1 and 2"
    sheet = read(tmp_path, f"Student|Rough|Run 1|Run 2|Run 3|{heading}\n{rows}")
    assert [each or False for each in runs_of(sheet)["ticked"][:4]] == (ticked or [False] * 4)
    assert students_of(sheet)["odd"][0] == ({} if ticked else {"used": listed})
    assert ("Results!F2" in sheet.ledger.rejected) == (ticked is None)
    assert any(line.startswith("Used: ") for line in sheet.understood)


def test_of_runs_with_one_titre_it_is_not_told_which_was_used(tmp_path: Path) -> None:
    rows = "A|24.30|24.40|24.30|24.30 and 24.40\nB|24.30|24.40|24.30|24.30, 24.30"
    sheet = read(tmp_path, f"Student|Run 1|Run 2|Run 3|Titres used\n{rows}")
    assert list(runs_of(sheet)["ticked"]) == [None, None, None, True, False, True]


def test_a_list_of_the_runs_used_in_the_first_line_of_a_student_ticks_them(tmp_path: Path) -> None:
    rows = "A|1|0.00|24.40|1 and 3\nA|2|0.00|24.90|\nA|3|0.00|24.45|\nB|1|0.00|24.40|1, 2\nB|2|0.00|24.45|2, 3"
    sheet = read(tmp_path, f"Student|Run|Initial|Final|Which titres did you use?\n{rows}\nB|3|0.00|24.90|1, 2")
    assert list(runs_of(sheet)["ticked"]) == [True, False, True, True, True, False]
    assert sheet.ledger.ignored["Results!E7"].startswith("repeats")
    assert students_of(sheet)["notes"][1] == ("another list of runs (2, 3) stands in Results!E6; the first was taken",)


def test_beside_a_list_of_the_runs_used_a_yes_says_of_no_run_that_it_was(tmp_path: Path) -> None:
    header = "Student|Titre 1|Titre 2|Titre 3|Did you get concordant titres?|Which titres are concordant?"
    sheet = read(tmp_path, f"{header}\nA|24.40|24.45|24.90|yes|1 and 2\nB|24.40|24.90|24.45|yes|1, 3")
    assert list(runs_of(sheet)["ticked"]) == [True, True, False, True, False, True]
    assert sheet.ledger.rejected == {}


@pytest.mark.parametrize(
    "when", ["Titration {} (date)|12/03/2026", "Time started titration {}|10:20", "Run {} time|9.15 am"]
)
def test_when_each_run_was_done_is_no_reading(tmp_path: Path, when: str) -> None:
    heading, time = when.split("|")
    header = "|".join(f"{heading.format(at)}|Run {at}" for at in (1, 2))
    sheet = read(tmp_path, f"Student|{header}\nA|{time}|24.40|{time}|24.45\nB|{time}|24.40|{time}|24.45")
    assert titres(sheet)[:2] == [("1", None, None, 24.4), ("2", None, None, 24.45)]
    assert sheet.ledger.rejected == {}


def test_a_question_and_what_it_was_marked_with_may_both_name_the_marks(tmp_path: Path) -> None:
    header = "Student|Titre 1|Titre 2|Mean titre (1 mark)|Result (3 marks)"
    answers = read(tmp_path, f"{header}\nA|24.40|24.45|24.43|0.0977\nB|24.40|24.45|24.43|0.0977")
    assert [str(students_of(answers)[key][0]) for key in ("mean", "result")] == ["24.43", "0.0977"]
    marked = read(tmp_path, f"{header}\nA|24.40|24.45|1|2.5\nB|24.40|24.45|0|2\nC|24.40|24.45|-|late")
    assert [students_of(marked)[key][0] for key in ("mean", "result")] == [None, None]


@pytest.mark.parametrize(("heads", "ann", "named"), [("", "", "Ann, Bea"), ("Student|", "Ann|", "Ann")])
def test_group_members_are_the_students_where_nobody_else_is_named(
    tmp_path: Path, heads: str, ann: str, named: str
) -> None:
    sheet = read(tmp_path, f"{heads}Group members|Run 1|Run 2\n{ann}Ann, Bea|24.40|24.45")
    assert list(students_of(sheet)["student"]) == [named]
    assert list(students_of(sheet)["groups"]) == [{"Group members": "Ann, Bea"} if ann else {}]


def test_a_symbol_below_another_heading_is_that_of_the_result(tmp_path: Path) -> None:
    heads = "Student|Titration 1||Own values|Own values\n|start|end|mean|c"
    sheet = read(tmp_path, f"{heads}\nA|0.00|24.40|24.43|0.0977\nB|0.00|24.45|24.43|0.0977")
    assert [str(each) for each in students_of(sheet)["result"]] == ["0.0977", "0.0977"]


@pytest.mark.parametrize("other", ["Nominal", "Actual"])
def test_a_concentration_that_is_the_same_for_all_is_not_the_result_beside_another(tmp_path: Path, other: str) -> None:
    own = {"Nominal": "Actual concentration", "Actual": "Concentration"}[other]
    header = f"Student|Titre 1|Titre 2|{other} concentration|{own}"
    sheet = read(tmp_path, f"{header}\nA|24.40|24.45|0.1000|0.0977\nB|24.40|24.40|0.1000|0.0976")
    assert [str(each) for each in students_of(sheet)["result"]] == ["0.0977", "0.0976"]


def test_a_list_of_concordant_results_is_not_the_result(tmp_path: Path) -> None:
    header = "Student|Titre 1|Titre 2|Titre 3|Concordant results|Concentration / mol dm-3"
    sheet = read(tmp_path, f"{header}\nA|24.40|24.45|24.80|1 and 2|0.0977\nB|24.40|24.90|24.40|1 and 3|0.0976")
    assert [str(each) for each in students_of(sheet)["result"]] == ["0.0977", "0.0976"]
    assert [bool(each) for each in runs_of(sheet)["ticked"]] == [True, True, False, True, False, True]


@pytest.mark.parametrize(
    ("text", "ticks"), [("all of them", True), ("all three", True), ("alle", True), ("both", None)]
)
def test_all_of_the_runs_may_be_listed_in_a_word(tmp_path: Path, text: str, ticks: bool | None) -> None:
    sheet = read(tmp_path, f"Student|Titre 1|Titre 2|Titre 3|Runs used|Mean titre\nA|24.40|24.45|24.50|{text}|24.45")
    assert [run.ticked for run in sheet.students[0].runs] == [ticks] * 3


@pytest.mark.parametrize("heading", ["Group", "Bench"])
def test_a_group_is_the_student_where_nobody_is_named_and_all_differ(tmp_path: Path, heading: str) -> None:
    rows = f"{heading}|Titre 1|Titre 2\n1|24.40|24.45\n2|24.40|24.50"
    assert [(one.name, one.groups) for one in read(tmp_path, rows).students] == [
        ("1", {heading: "1"}),
        ("2", {heading: "2"}),
    ]
    with pytest.raises(InputError, match="no column says whose readings these are"):
        read(tmp_path, f"{rows}\n2|24.40|24.60")


def test_no_bottle_is_taken_for_a_student(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Ada|||\nBottle|Run|Initial|Final\nA|1|0.00|24.40\nB|2|0.00|24.50")
    assert [(len(one.runs), one.groups["Bottle"]) for one in sheet.students] == [(2, "A")]
    with pytest.raises(InputError, match="no column says whose readings these are"):
        read(tmp_path, "Bottle|Titre 1|Titre 2\nA|24.40|24.45\nB|24.40|24.50")


@pytest.mark.parametrize("heading", ["Chemist", "Lab partner A"])
def test_no_group_is_taken_for_the_student_beside_what_may_be_names(tmp_path: Path, heading: str) -> None:
    lines = [f"{who}|{bench}|{run}|0.00|24.4{run}" for bench, who in enumerate(("Ada", "Ben")) for run in (1, 2)]
    with pytest.raises(InputError, match="no column says whose readings these are"):
        read(tmp_path, "\n".join((f"{heading}|Bench|Run|Initial|Final", *lines)))


def test_what_students_say_of_their_result_is_not_the_result(tmp_path: Path) -> None:
    header = "Student|Titre 1|Titre 2|Concentration of NaOH / mol dm-3|Evaluate your result"
    sheet = read(tmp_path, f"{header}\nA|24.40|24.45|0.0977|as expected\nB|24.40|24.40|0.0976|too low")
    assert [str(each) for each in students_of(sheet)["result"]] == ["0.0977", "0.0976"]


def test_a_partners_titre_and_the_best_one_belong_to_no_run(tmp_path: Path) -> None:
    header = "Student|Run 1 initial|Run 1 final|Run 2 initial|Run 2 final|Best titre|Partner's titre|Mean titre"
    sheet = read(tmp_path, f"{header}\nA|0.00|24.40|0.00|24.50|24.40|24.75|24.45")
    assert titres(sheet) == [("1", 0.0, 24.4, None), ("2", 0.0, 24.5, None)]
    assert {"Results!F2", "Results!G2"} <= {*sheet.ledger.ignored}


def test_best_titres_beside_runs_are_no_titres_of_the_first_ones(tmp_path: Path) -> None:
    header = "Student|Titre 1|Titre 2|Titre 3|Best titre 1|Best titres 2"
    sheet = read(tmp_path, f"{header}\nA|24.90|24.40|24.45|24.40|24.45")
    assert [each[3] for each in titres(sheet)] == [24.9, 24.4, 24.45]
    assert {"Results!E2", "Results!F2"} <= {*sheet.ledger.ignored}


@pytest.mark.parametrize("heads", ["Best titre 1|Best titre 2", "Rough titre|Best titre 1|Best titres 2", "Best titre"])
def test_best_titres_are_the_runs_where_no_others_stand_there(tmp_path: Path, heads: str) -> None:
    held = "|".join(["24.40"] * (1 + heads.count("|")))
    sheet = read(tmp_path, f"Student|{heads}|Result\nA|{held}|0.0977\nB|{held}|0.0976")
    assert sheet.room == heads.count("est")
    assert {each[3] for each in titres(sheet)} == {24.4}


def test_readings_that_name_neither_end_nor_run_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no reading was understood; not understood: 'Reading 1' "):
        read(tmp_path, "Student|Reading 1|Reading 2|Result\nA|24.40|24.45|0.1")


@pytest.mark.parametrize("heads", ["Run 1 initial|Run 1 final", "Run 1 initial"])
def test_a_class_with_initial_readings_alone_is_not_taken_for_absent(tmp_path: Path, heads: str) -> None:
    with pytest.raises(InputError, match="nobody has a final reading or a titre"):
        read(tmp_path, f"Student|{heads}\nA|0.10\nB|0.00")


def test_labels_over_a_block_that_are_not_understood_are_asked_about(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="may hold readings but are not understood: 'Scale B' "):
        read(tmp_path, "Name|A\n|Rough|1|2\nScale A|0.00|0.00|0.10\nScale B|24.90|24.40|24.55\nTitre|24.90|24.40|24.45")


@pytest.mark.parametrize("rough", ["", "Rough|"])
def test_figures_before_every_reading_from_one_on_are_those_of_the_runs(tmp_path: Path, rough: str) -> None:
    header = f"Student|{rough}1. Start|1. End|1. Difference|2. Start|2. End|2. Difference"
    sheet = read(tmp_path, f"{header}\nA|{'24.90|' if rough else ''}0.00|24.40|24.40|0.10|24.55|24.45")
    assert [each for each in titres(sheet) if each[0] != "Rough"] == [("1", 0.0, 24.4, 24.4), ("2", 0.1, 24.55, 24.45)]


def test_figures_that_go_on_from_question_to_question_are_of_no_run(tmp_path: Path) -> None:
    header = "Student|1. Rough start|2. Rough end|3. Run 1 start|4. Run 1 end|5. Run 2 start|6. Run 2 end"
    sheet = read(tmp_path, f"{header}\nA|0.00|24.90|0.00|24.40|0.10|24.55")
    assert [each[0] for each in titres(sheet)] == ["Rough", "1", "2"]


def test_a_volume_that_is_the_same_for_everybody_is_no_reading(tmp_path: Path) -> None:
    rows = "\n".join(f"{name}|25.0|{titre}|24.45" for name, titre in (("A", "24.40"), ("B", "24.45"), ("C", "24.50")))
    sheet = read(tmp_path, f"Student|Vol NaOH (mL)|Titre 1|Titre 2\n{rows}")
    assert any("not understood and not used: 'Vol NaOH (mL)'" in note for note in sheet.notes)


def test_what_was_used_is_the_titre_where_it_is_the_difference(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Student|Start 1|End 1|Used 1|Start 2|End 2|Used 2\nA|0.00|24.40|24.40|0.10|24.55|24.45")
    assert [each[3] for each in titres(sheet)] == [24.4, 24.45]


def test_titres_under_used_of_some_runs_alone_leave_no_titre_of_the_others_blank(tmp_path: Path) -> None:
    header = "Student|Start 1|End 1|Used 1|Start 2|End 2|Used 2"
    sheet = read(tmp_path, f"{header}\nA|0.00|24.40|24.40|0.10|24.55|24.45\nB|0.00|24.40|24.40|0.10|24.95|")
    assert [each[3] for each in titres(sheet)] == [None] * 4


def test_ticks_of_lettered_runs_are_those_of_the_runs(tmp_path: Path) -> None:
    header = "Student|R (i)|R (f)|A1 (i)|A1 (f)|A2 (i)|A2 (f)|Used A1|Used A2"
    sheet = read(tmp_path, f"{header}\nA|0.00|24.90|0.00|24.40|0.00|24.45|y|y")
    assert [run.ticked for run in sheet.students[0].runs] == [None, True, True]


def test_ticks_of_runs_that_cannot_be_told_are_asked_about(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be told which run 'Used Z2' is of"):
        read(tmp_path, "Student|Titre 1|Titre 2|Used Z1|Used Z2\nA|24.40|24.45|y|y")


def test_words_for_a_run_given_up_are_so_beside_readings_alone(tmp_path: Path) -> None:
    header = "Student|Run 1 initial|Run 1 final|Run 2 initial|Run 2 final"
    sheet = read(tmp_path, f"{header}\nA|0.00|24.40|0.00|tap leaked")
    assert sheet.ledger.ignored["Results!E2"] == "'tap leaked' says that the run was given up"


def test_letters_over_a_block_are_runs(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Name|Ann\n|A|B\nInitial|0.00|0.10\nFinal|24.40|24.55")
    assert [(student.name, len(student.runs)) for student in sheet.students] == [("Ann", 2)]


@pytest.mark.parametrize("runs", ["Rough|V1|V2", "Rough|1|2"])
def test_runs_over_a_block_may_be_called_by_the_symbol_of_their_volumes(tmp_path: Path, runs: str) -> None:
    sheet = read(tmp_path, f"Name|A\n|{runs}\nInitial|0.00|0.00|0.10\nFinal|24.90|24.40|24.55")
    assert [run.label for run in sheet.students[0].runs] == ["Rough", "1", "2"]


def test_halves_of_runs_that_cannot_be_joined_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be told which run 'Initial' belongs to"):
        read(tmp_path, "Student|Initial|Run 1 final|Run 2 initial|Run 2 final\nA|0.00|24.40|0.00|24.45")


@pytest.mark.parametrize("heading", ["Titre (mol/L)", "Titre massique (g pour 100 mL)"])
def test_a_titre_in_a_unit_of_concentration_is_the_strength_that_was_found(tmp_path: Path, heading: str) -> None:
    lines = f"Nom,Essai 1 initial,Essai 1 final,{heading}\nA,0.00,24.35,0.0974\nB,0.00,24.40,0.0976\n"
    (tmp_path / "class.csv").write_text(lines, encoding="utf-8")
    assert [str(one) for one in students_of(read_class(tmp_path / "class.csv"))["result"]] == ["0.0974", "0.0976"]


def test_what_was_expected_parts_no_table_of_students_across(tmp_path: Path) -> None:
    rows = (
        "|Ada|Ben\nRun 1 initial|0.00|0.00\nRun 1 final|24.40|24.45\nRun 2 initial|0.10|0.10\nRun 2 final|24.50|24.50\n"
    )
    sheet = read(
        tmp_path,
        f"{rows}Mean titre|24.40|24.43\nTrue titre|24.35|24.35\nDifference|0.05|0.08\nResult|0.0976|0.0977",
    )
    assert [str(one) for one in students_of(sheet)["result"]] == ["0.0976", "0.0977"]


@pytest.mark.parametrize(("heading", "value"), [("Difference", "0.03"), ("True titre", "24.35")])
def test_what_was_expected_is_no_titre_between_mean_and_result(tmp_path: Path, heading: str, value: str) -> None:
    head = f"Student|Run 1 initial|Run 1 final|Run 2 initial|Run 2 final|Mean titre|{heading}|Result"
    sheet = read(tmp_path, f"{head}\nA|0.00|24.40|0.10|24.45|24.38|{value}|0.0975")
    assert list(runs_of(sheet)["titre"]) == [None, None]
    assert [str(one) for one in students_of(sheet)["result"]] == ["0.0975"]


TWO_MEANS = "Student|Rough titre|Run 1 titre|Run 2 titre|{}|{}|Result\nAda|25.80|25.30|25.40|{}|0.101\nBen|25.90|25.35|25.35|{}|0.101"


@pytest.mark.parametrize("other", ["Average", "Mean", "Mean of all", "Average of 3"])
@pytest.mark.parametrize("first", [True, False])
def test_of_two_means_that_of_the_titres_counts(tmp_path: Path, other: str, first: bool) -> None:
    heads, values = (other, "Mean titre"), (("25.50", "25.35"), ("25.53", "25.34"))
    order = slice(None) if first else slice(None, None, -1)
    sheet = read(tmp_path, TWO_MEANS.format(*heads[order], *("|".join(pair[order]) for pair in values)))
    assert [str(mean) for mean in students_of(sheet)["mean"]] == ["25.35", "25.34"]


def test_two_means_of_which_neither_says_more_are_asked_about(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="'Mean' and 'Average' may both be the mean titre"):
        read(tmp_path, TWO_MEANS.format("Mean", "Average", "25.50|25.35", "25.53|25.35"))
    sheet = read(tmp_path, TWO_MEANS.format("Mean", "Average", "25.35|25.35", "25.34|25.34"))
    assert [str(mean) for mean in students_of(sheet)["mean"]] == ["25.35", "25.34"]


def test_small_figures_under_average_are_not_the_result_where_another_column_is(tmp_path: Path) -> None:
    sheet = read(
        tmp_path,
        "Student|Run 1 titre|Run 2 titre|Average|Result\nAda|25.30|25.40|0.74|0.101\nBen|25.35|25.35|0.2|0.101",
    )
    assert [str(each) for each in students_of(sheet)["result"]] == ["0.101", "0.101"]


@pytest.mark.parametrize(
    ("heads", "values"),
    [
        (("Mean titre / cm3", "Mean titre / dm3"), ("25.35|0.0254", "25.34|0.0253")),
        (("Mean titre", "Mean titre rounded"), ("25.345|25.35", "25.338|25.34")),
        (("Mean titre", "Mean titre to 1 d.p."), ("25.35|25.3", "25.34|25.3")),
    ],
)
def test_a_mean_and_the_same_mean_rounded_behind_it_are_one(tmp_path, heads, values) -> None:
    sheet = read(tmp_path, TWO_MEANS.format(*heads, *values))
    assert [str(mean) for mean in students_of(sheet)["mean"]] == [each.split("|")[0] for each in values]


@pytest.mark.parametrize("heads", ["Result 1|Result 2|Mean", "c1|c2|Mean", "Run 1 result|Run 2 result|Average"])
def test_a_mean_behind_the_results_of_runs_is_that_of_the_results(tmp_path: Path, heads: str) -> None:
    values = "25.30|25.40|25.35|0.1012|0.1016|0.1014"
    sheet = read(tmp_path, f"Student|Titre 1|Titre 2|Mean titre|{heads}\nAda|{values}\nBen|{values}")
    assert [(str(one["mean"]), str(one["result"])) for one in students_of(sheet).rows()] == [("25.35", "0.1014")] * 2


@pytest.mark.parametrize("heading", ["Total volume", "Total volume used", "Titrant used / cm3", "Difference"])
def test_a_volume_before_the_readings_of_named_runs_is_no_titre(tmp_path: Path, heading: str) -> None:
    heads = f"Student|{heading}|Run 1 initial|Run 1 final|Run 2 initial|Run 2 final"
    sheet = read(tmp_path, f"{heads}\nAda|51|0.00|25.30|1.00|26.40\nBen|50|0.00|25.35|1.00|26.35")
    assert [*runs_of(sheet)["label"]] == ["1", "2", "1", "2"]
    with pytest.raises(InputError, match="cell B1: may hold readings but are not understood"):
        read(tmp_path, f"{heads}\nAda|50.70|0.00|25.30|1.00|26.40\nBen|50.70|0.00|25.35|1.00|26.35")


def test_mean_and_result_below_a_gap_belong_to_who_did_fewer_runs(tmp_path: Path) -> None:
    rows = (
        "Ada||||Ben||",
        "Run|Initial|Final||Run|Initial|Final",
        "1|0.00|24.40||1|0.00|24.45",
        "2|0.10|24.50||||",
        "3|0.00|24.45||||",
        "Mean|24.42|||Mean|24.45|",
        "Result|0.0977|||Result|0.0978|",
    )
    found = students_of(read(tmp_path, "\n".join(rows)))
    assert list(zip(found["student"], map(str, found["mean"]), map(str, found["result"]), strict=True)) == [
        ("Ada", "24.42", "0.0977"),
        ("Ben", "24.45", "0.0978"),
    ]


def test_an_average_among_the_runs_is_the_student_s_mean_and_no_run(tmp_path: Path) -> None:
    sheet = read(
        tmp_path,
        "Name|A||||\n|Rough|1|2|Average\nFinal|24.90|24.40|24.50|24.45\nInitial|0.00|0.00|0.10|0.05\nTitre|24.90|24.40|24.40|24.40",
    )
    assert list(runs_of(sheet)["label"]) == ["Rough", "1", "2"]
    assert str(students_of(sheet)["mean"][0]) == "24.40"
    assert "average" in sheet.ledger.ignored["Results!E3"]


def test_blocks_under_each_other_may_share_the_row_that_names_the_runs(tmp_path: Path) -> None:
    sheet = read(
        tmp_path,
        "Student||Rough|1\nAnn|Final|24.90|24.40\n|Initial|0.00|0.00\nBo|Final|25.00|24.50\n|Initial|0.00|0.10",
    )
    assert list(students_of(sheet)["student"]) == ["Ann", "Bo"]
    assert list(runs_of(sheet)["label"]) == ["Rough", "1", "Rough", "1"]


def test_means_and_results_may_stand_beside_blocks_under_each_other(tmp_path: Path) -> None:
    sheet = read(
        tmp_path,
        "Student||Rough|1|2|Mean titre|Result\nAnn|Final|24.90|24.40|24.45|24.43|0.0977\n|Initial|0.00|0.00|0.00"
        "\nBo|Final|25.00|24.50|24.55|24.38|0.0975\n|Initial|0.00|0.10|0.20",
    )
    assert list(students_of(sheet)["student"]) == ["Ann", "Bo"]
    assert list(runs_of(sheet)["label"]) == ["Rough", "1", "2"] * 2
    assert [str(mean) for mean in students_of(sheet)["mean"]] == ["24.43", "24.38"]
    assert [str(result) for result in students_of(sheet)["result"]] == ["0.0977", "0.0975"]


def test_a_concentration_over_a_block_is_not_the_student_s_result(tmp_path: Path) -> None:
    sheet = read(
        tmp_path, "Name|Ann\nConcentration of HCl|0.1000\n|Trial 1|Trial 2\nInitial|0.00|0.00\nFinal|24.40|24.45"
    )
    assert students_of(sheet)["result"][0] is None


def test_lines_of_class_figures_are_nobody(tmp_path: Path) -> None:
    sheet = read(
        tmp_path,
        "Student|Rough|1|2\nA|24.90|24.40|24.45\nB|24.80|24.30|24.35\nAverage|24.85|24.35|24.40\nMax|24.90|24.40|24.45\nSD|0.1|0.1|0.1",
    )
    assert list(students_of(sheet)["student"]) == ["A", "B"]
    assert "class figures" in sheet.ledger.ignored["Results!B5"]


def test_names_without_a_header_are_found(tmp_path: Path) -> None:
    assert list(students_of(read(tmp_path, "|Rough|1|2\nAnn|24.90|24.40|24.45\nBo|24.80|24.30|24.35"))["student"]) == [
        "Ann",
        "Bo",
    ]


def test_a_run_in_two_parts_keeps_both_in_columns_and_in_rows(tmp_path: Path) -> None:
    parts = ((0, 48_800), (0, 1_200))
    header = "Student|Run 1 initial|Run 1 final|Run 1 refill initial|Run 1 refill final"
    across = read(tmp_path, f"{header}\nA|0.00|48.80|0.00|1.20")
    down = read(tmp_path, "Student|Run|Initial|Final\nA|1|0.00|48.80\nA|1 (refill)|0.00|1.20\nA|2|0.00|49.90")
    assert runs_of(across)["parts"][0] == runs_of(down)["parts"][0] == parts
    assert list(runs_of(down)["label"]) == ["1", "2"]
    assert runs_of(down)["cells"][0]["final again"] == "Results!D3"


@pytest.mark.parametrize(
    ("cells", "parts", "ends"),
    [
        ("|30.00 - 50.00 + 0.00 - 5.30|25.30", ((30_000, 50_000), (0, 5_300)), (30.0, 5.3, 25.3)),
        ("30.00|30.00 - 50.00 + 0.00 - 5.30|25.30", ((30_000, 50_000), (0, 5_300)), (30.0, 5.3, 25.3)),
        ("30.00 - 50.00 + 0.00 - 5.30|5.30|25.30", ((30_000, 50_000), (0, 5_300)), (30.0, 5.3, 25.3)),
        ("||50.00 - 30.00 + 5.30 - 0.00", ((30_000, 50_000), (0, 5_300)), (30.0, 5.3, None)),
        ("|30.00 - 50.00|20.00", (), (30.0, 50.0, 20.0)),
    ],
    ids=["final", "initial once more", "initial", "titre as a sum", "not refilled"],
)
def test_readings_in_one_cell_beside_an_empty_one_are_taken(
    tmp_path: Path, cells: str, parts: tuple[Any, ...], ends: tuple[Any, ...]
) -> None:
    sheet = read(tmp_path, f"Student|Run 1 initial|Run 1 final|Run 1 titre\nA|{cells}\nB|0.00|25.30|25.30")
    assert runs_of(sheet)["parts"][0] == parts
    assert titres(sheet)[0][1:] == ends
    assert not runs_of(sheet)["odd"][0]
    assert sheet.ledger.rejected == {}


@pytest.mark.parametrize("cells", ["0.00|30.00 - 50.00", "|1 - 3", "|24.40/24.45", "spilt|30.00 - 50.00"])
def test_readings_in_one_cell_that_leave_a_doubt_are_not_taken(tmp_path: Path, cells: str) -> None:
    sheet = read(tmp_path, f"Student|Run 1 initial|Run 1 final|Run 1 titre\nA|{cells}|25.30\nB|0.00|25.30|25.30")
    assert "final" in runs_of(sheet)["odd"][0]


def test_a_second_attempt_in_a_long_table_is_kept_apart(tmp_path: Path) -> None:
    rows = "Student|Run|Titre\nA|Rough|24.90\nA|1|24.40\nB|1|24.30\nA|Rough|25.90\nA|1|25.40"
    sheet = read(tmp_path, rows)
    assert list(students_of(sheet)["student"]) == ["A", "B", "A (2)"]
    assert list(runs_of(sheet)["titre"]) == [24_900, 24_400, 24_300, 25_900, 25_400]


def test_a_worked_example_and_headings_among_the_students_are_nobody(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Student|Rough|Run 1\nExample|24.90|24.40\nSet 1\nA|24.90|24.40\nSet 2\nB|24.80|24.30")
    assert list(students_of(sheet)["student"]) == ["A", "B"]


def test_a_standardisation_below_the_class_is_left_out_and_said(tmp_path: Path) -> None:
    text = (
        "Student|Rough|Run 1\nA|24.90|24.40\nB|24.80|24.30\n\nStandardisation of the acid\nRun|1|2\nTitre|25.00|25.10"
    )
    sheet = read(tmp_path, text)
    assert list(students_of(sheet)["student"]) == ["A", "B"]
    assert any("looks like a line of another table" in note for note in sheet.notes)


@pytest.mark.parametrize("word", ["Pupil ", "Student ", ""])
def test_students_told_by_letters_are_all_students(tmp_path: Path, word: str) -> None:
    names = [f"{word}{letter}" for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ"]
    sheet = read(tmp_path, "Student|Rough|Run 1\n" + "\n".join(f"{name}|24.90|24.40" for name in names))
    assert list(students_of(sheet)["student"]) == names


def test_readings_without_a_name_are_kept_under_their_row(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Student|Rough|Run 1\nA|24.90|24.40\n|24.80|24.30")
    assert list(students_of(sheet)["student"]) == ["A", "(row 3)"]
    assert students_of(sheet)["notes"][1] == ("no name stands in row 3",)


@pytest.mark.parametrize(
    ("rows", "asked"),
    [
        (
            "|P|Q|Mean\nInitial|0.00|0.10\nFinal|24.90|24.40\nTitre|24.90|24.30|24.60",
            "what stands over these readings names no runs",
        ),
        (
            "|initial|final|initial|final\nRough|0.0|25.0|0.0|25.1\nRun 1|0.00|24.40|0.10|24.45",
            "runs stand where the students' names are looked for",
        ),
        ("Run|Start|End\nRough|0|25\n1|0|24.4\nRough|0|26\n1|0|24.5", "no column says whose readings these are"),
        ("Student|Rough|Run 1\nA|0.00|0.10\n|24.90|24.40\nB|0.00|0.20\n|24.80|24.30", "no column says whose readings"),
    ],
)
def test_what_would_mix_people_or_runs_is_asked_about(tmp_path: Path, rows: str, asked: str) -> None:
    with pytest.raises(InputError, match=asked):
        read(tmp_path, rows)


def test_words_of_several_languages_can_be_mixed_in_one_sheet(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Élève|Grob Anfang|Rough final|Valoración 1 inicial|Run 1 Ende\nA|0.00|24.90|0.10|24.50")
    assert titres(sheet) == [("Rough", 0.0, 24.9, None), ("1", 0.1, 24.5, None)]


def test_no_wording_of_the_table_stands_twice_in_a_list() -> None:
    import tomllib

    from labmark.read.words import TABLE, folded

    for name, languages in tomllib.loads(TABLE.read_text(encoding="utf-8")).items():
        assert set(languages) <= {"en", "de", "fr", "es"}, name
        for words in languages.values():
            assert len({folded(word) for word in words}) == len(words), (name, words)


TWO_ROWS = [
    ["", "", "Rough", "", "Run 1", "", "", "", "Run 2", "", "", "", "", "", ""],
    ["Student", "Bench", "initial", "final"]
    + ["initial", "final", "titre", "used"] * 2
    + ["Mean titre", "Result", "Remarks"],
    ["S01", "1", "0.00", "24.90", *["0.00", "24.40", "24.40", "y"] * 2, "24.40", "0.0976", ""],
    ["S02", "1", "0.00", "24.80", *["0.10", "24.40", "24.30", "y"] * 2, "24.30", "0.0972", ""],
]


@pytest.mark.parametrize("merged", [True, False])
def test_the_name_of_a_run_does_not_reach_the_mean_and_result_beyond_it(tmp_path: Path, merged: bool) -> None:
    def merge(ws: Any) -> None:
        for cells in ("C1:D1", "E1:H1", "I1:L1") if merged else ():
            ws.merge_cells(cells)

    sheet = class_of(tmp_path, merge, TWO_ROWS)
    assert [str(mean) for mean in students_of(sheet)["mean"]] == ["24.40", "24.30"]
    assert [str(result) for result in students_of(sheet)["result"]] == ["0.0976", "0.0972"]
    assert list(runs_of(sheet)["label"]) == ["Rough", "1", "2"] * 2
    assert list(runs_of(sheet)["ticked"][1:3]) == [True, True]


@pytest.mark.parametrize("word", ["Run", "Trial", "Essai", "Ensayo", "Durchgang"])
def test_a_result_of_one_run_may_be_headed_with_any_word_for_a_run(word):
    header = result_of_run(f"{word} 1 result")
    assert header is not None
    assert (header.field, header.number) == ("result", 1)


@pytest.mark.parametrize("word", ["Run", "Attempt", "Trial", "Essai", "Versuch", "Titration no."])
def test_a_number_of_one_run_may_be_headed_with_any_word_for_a_run(word):
    header = named(f"{word} 2: mass", "Mass")
    assert header is not None
    assert (header.field, header.number) == ("own", 2)
