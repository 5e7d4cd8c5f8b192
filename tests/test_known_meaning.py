"""One number written in the many ways in which people write it: it is read as that number, or it is said that it is not.

A class is typed with a known meaning for every cell; many cells are then written otherwise. A cell may be refused with
its reason (it stands among the rejected or ignored cells), but no other number may come out of it.
"""

from __future__ import annotations

import csv
import json
import random
import re
from decimal import Decimal

import openpyxl
import pytest

from labmark.outputs.data import results_text
from labmark.pipeline import judged_tree
from tests.fair_students import DRAIN
from tests.seeds import times

QUICK, MANY = 200, times(1_000)
PUPILS = 30
FULL_WIDTH = str.maketrans("0123456789.", "０１２３４５６７８９．")
ARABIC = str.maketrans("0123456789.", "٠١٢٣٤٥٦٧٨٩٫")

# {v} stands for the reading with two decimals, {c} for the same with a comma, {i} and {d} for what stands before and
# behind the point.
READINGS = """
{v}|{c}|{i}·{d}|{v} cm³|{v}cm3|{v} ml|{v}mL|{c} cm³|{v} cm^3|{v} cc|{c}ml|{v} ML|{v} cm³.|{v} millilitres
 {v}|{v} |{v}|{v} cm³| {v} |{i}. {d}|{i} .{d}|{i} , {d}|{i}.{d} cm³
{v}¹|{v}²|{v}①|{v}₂|{v} ¹|{c}³|{v}ᵃ|{v}⁽¹⁾|{v} cm³ ¹|{v}*|{v}**|{v}†|{v}?|{v}!|{v} (!)|{v} [1]|{v} (1)|{v}(2)|{v}#
{v} (pale pink)|{v} pink|{v} - pale pink|{v}; overshot|{v} see note 2|{v} (was 25.40)|{v} not 25.40|{v} (2nd try)
{v} – 1 drop over|{v}, 1 drop over|{v} 2 drops over|{v} at 10:45|{v} (run 2)|{v} 2nd try|{v} - 2 drops|{v} (0.05 over)
{v} or so|{v} ok|{v} ✓|{v} (ok)|{v} x|{v} y|{v} ca|{v} checked|{v} (checked by Jo 12)|{v} T2|{v} #2|{v} /1|{v} 1.|{v} : 1
~{v}|ca. {v}|ca {v}|c. {v}|approx {v}|about {v}|≈{v}|<{v}|>{v}|+{v}|={v}|= {v}|'{v}|"{v}"|“{v}”|({v})|[{v}]|{v}.|{v},|{v};|{v}:
{i}.{d}0|{c}0|0{v}|00{v}|{i}..{d}|{i},.{d}|{i}.,{d}|{i}:{d}|{i};{d}|{i}'{d}|{i}-{d}|{i} {d}|{i}/{d}|{i}_{d}|{i}p{d}|{i}.{d}.|.{v}
{v} ± 0.05|{v} +/- 0.05|{v}±0.05|{v} +- 0.05|{c} ± 0,05|{v} ± 0.05 cm³|{v} (± 0.05)|{v} cm³ ± 0.05 cm³|{v} 0.05
reading {v}|final: {v}|V = {v}|initial {v}|V2={v}|V1 = {v} cm³|R1: {v}|reading 2: {v}|2nd: {v}|1) {v}|a) {v}|No. 2: {v}|run 1 {v}|at 10:40 {v}|25/11 {v}
{v}o|{i}.{d}O|o{v}|{v}l|{i}.{d}l|I{v}|{v}e|{v}e0|{v}E+00|{v} x 10^0|{v} × 1|{v} mm|{v} m³|{v} g|{v} %|{v}%|{v} L|{v} °C|{v} dm|{v} mol|£{v}|{v} s
{v}{v}|{v} {v}|{v}/{v}|{v} and {v}|{v}, {v}|{v}-{v}|{v} = {v}|{v}\\n{v}|{v}\\n|\\n{v}|{v}\\npink|{v}\\tcm³|{v}\\n2|1\\n{v}
{i}½|{i} 1/2|{i}.½|half past {i}|{i} point {d}|{i} cm³ {d}|{i} ml {d}|{i} dot {d}|{i}. {d} cm3|{i}˙{d}|{i}٫{d}|{i}。{d}|{i}﹒{d}|{i}‚{d}|{i}，{d}
""".strip("\n")
"""Ways to write a reading; those of one character too many may be refused, but not read as another number."""

RESULTS = """
{v}|{c}|.{d}|,{d}|{v} mol/dm³|{v} mol/dm3|{v} mol dm-3|{v} mol dm⁻³|{v} mol dm^-3|{v} mol/L|{v} mol/l|{v} mol·L⁻¹|{v} mol L-1|{v}M|{v} M|{c} mol/l
{m} mmol/dm3|{m} mmol/L|{m} mM|{s}E-01|{s}e-1|{s} × 10⁻¹|{s} x 10^-1|{s}*10^-1|{s}·10⁻¹|{s} x10-1|{s} × 10^-1 mol/dm³|{s} x 10⁻¹ M
c = {v}|c={v} mol/dm³|[NaOH] = {v}|c(NaOH) = {v} mol/L|~{v}|≈ {v}|{v} ± 0.001|{v} +/- 0.001 mol/dm³|{v} (3 sf)|{v} (3 s.f.)|{v}*|{v}¹|{v}²|{v}?|{v} ok
{v} mol|{v} mol/dm³ (NaOH)|NaOH: {v}|{v} mol/dm3 of NaOH|NaOH {v} M|H2SO4 {v}|2 NaOH: {v}|{v} for 25 cm³|25.30 → {v}|0.0500 x 25.30 x 2 / 25.0 = {v}|= {v}|{v}.|{v} mol.dm-3
answer: {v}|Q3: {v}|3) {v}|{v} 1|{v} - 2|{v} (1)|{v} [2]|{v} mol/dm³ 1|ca. {v}|about {v} mol/dm³|{v} (0.0005)|{v}(5)|{v}\\n|0.10{x}|{v} or 0.0506|{v} / 0.0506
""".strip("\n")
"""Ways to write a concentration of three figures: {m} in mmol, {s} and {x} for powers of ten and the last digit."""

HEADERS = (
    ("Student", "Rough initial", "Rough final", "Rough titre", "Run {} initial", "Run {} final", "Run {} titre", "Mean titre", "Result"),
    ("Name", "Rough start", "Rough end", "Rough titre", "Titration {} start / cm3", "Titration {} end / cm3", "Titration {} titre / cm3", "Average titre", "Concentration"),
    ("Pupil", "Initial (rough)", "Final (rough)", "Titre (rough)", "Initial ({})", "Final ({})", "Titre ({})", "Mean / cm³", "Concentration / mol dm⁻³"),
    ("Student name", "Rough: initial reading", "Rough: final reading", "Rough: volume used", "{}. initial reading", "{}. final reading", "{}. volume used", "Mean volume", "My result"),
)  # fmt: skip

PAIRS = """
{a} - {b}|{a}-{b}|{a} – {b}|{a} — {b}|{a}–{b}|{a}; {b}|{a};{b}|{a} {b}|{a}  {b}|{a} and {b}|from {a} to {b}|({a}, {b})|({a}; {b})|{a}, {b}|{a}/{b}|{a} / {b}
{a} to {b}|{a} → {b}|{a} -> {b}|{a} => {b}|{a} > {b}|{a} | {b}|{a}\\n{b}|{a}\\t{b}|{a} bis {b}|{a} a {b}|{a} à {b}|{a} until {b}|{a} ... {b}|{a} … {b}|{a} & {b}|{a} + {b}|{a} : {b}
{e}-{f}|{e} - {f}|{e}; {f}|{e} {f}|{e} / {f}|({e}; {f})|von {e} bis {f}|de {e} à {f}|{e}, {f}|{e},{f}|{e} → {f}|{e} to {f}
{a} cm³ - {b} cm³|{a}ml to {b}ml|{a} to {b} cm3|{a} - {b} (pink)|{a} - {b}¹|{a} - {b}*|{a} - {b} overshot|{a} - {b} = {t}|{b} - {a}|{b} - {a} = {t}|{b} → {a}|{b} {a}|{b}; {a}
initial {a} final {b}|initial {a}, final {b}|i: {a} f: {b}|start {a} end {b}|start: {a}; end: {b}|final {b} initial {a}|end {b} start {a}|{a} (initial) {b} (final)|[{a}, {b}]|{a}, {b}, {t}|{a} {b} {t}
{t}|{a} - {b} - {t}|{a} - ?|? - {b}|{a} -|- {b}|{a} - {b} - {a}|~{a} - {b}|{a} - ~{b}|{a} ± 0.05 - {b} ± 0.05|0-{b}|{a} to {b} or so|{a}-{b}; {a}-{b}
""".strip("\n")
"""Ways to write both readings of a run in one cell: {a} and {b}, with commas {e} and {f}; {t} is the titre."""


def ways(text: str) -> list[str]:
    return [
        each.replace("\\n", "\n").replace("\\t", "\t")
        for line in text.split("\n")
        for each in re.split(r"(?<! )\|(?! )", line)
    ]


READING_WAYS, RESULT_WAYS, PAIR_WAYS = ways(READINGS), ways(RESULTS), ways(PAIRS)


def written(value: Decimal, rng: random.Random) -> str:
    """A reading [cm³] in one of the ways."""
    text = f"{value:.2f}"
    if rng.random() < 0.04:
        return text.translate(rng.choice((FULL_WIDTH, ARABIC)))
    if rng.random() < 0.04:
        return f"{value / 1000:.5f} dm³"
    whole, _, decimals = text.partition(".")
    ways_of_it = [
        each for each in READING_WAYS if decimals == "50" or not any(half in each for half in ("½", "1/2", "half"))
    ]
    return rng.choice(ways_of_it).format(v=text, c=text.replace(".", ","), i=whole, d=decimals)


def written_result(value: Decimal, rng: random.Random) -> str:
    """A concentration [mol/dm³] in one of the ways."""
    text = f"{value:.3f}"
    return rng.choice(RESULT_WAYS).format(
        v=text, c=text.replace(".", ","), d=text[2:], m=f"{value * 1000:.0f}", s=f"{value * 10:.2f}", x=text[-1]
    )


def a_row(rng: random.Random, name: str, share: float) -> tuple[list[str], list[Decimal | str], list[bool]]:
    """(cells, meanings, which were written otherwise) of a student; a name is its own meaning."""
    meanings: list[Decimal | str] = [name]
    titres = []
    for _ in range(3):
        initial = Decimal(5 * rng.randrange(0, 200)) / 100
        titre = Decimal(2530 + 5 * rng.randrange(-6, 7)) / 100
        titres.append(titre)
        meanings += [initial, initial + titre, titre]
    mean = (titres[1] + titres[2]) / 2
    meanings += [mean.quantize(Decimal("0.01")), (mean * Decimal("0.004")).quantize(Decimal("0.001"))]
    cells, changed = [name], [False]
    for place, value in enumerate(meanings[1:], start=1):
        odd = rng.random() < share
        plain = f"{value:.3f}" if place == len(meanings) - 1 else f"{value:.2f}"
        way = written_result if place == len(meanings) - 1 else written
        cells.append(way(Decimal(value), rng) if odd else plain)
        changed.append(odd)
    return cells, meanings, changed


def save(rows: list[list[str]], path, rng: random.Random) -> None:
    if path.suffix == ".csv":
        with path.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file, delimiter=rng.choice((",", ";", "\t"))).writerows(rows)
        return
    book = openpyxl.Workbook()
    book.active.title = "Results"
    for number, row in enumerate(rows, start=1):
        for column, text in enumerate(row, start=1):
            cell = book.active.cell(number, column)
            cell.value, cell.data_type = text, "s"
            if re.fullmatch(r"[0-9.]+", text) and text.count(".") == 1:
                cell.value = float(text)
                cell.number_format = rng.choice(("0.00", "General", '0.00 "cm³"')) if column < len(row) else "General"
    book.save(path)


def silently_wrong(seed: int, folder, share: float = 0.3) -> tuple[list[str], int]:
    """(what was read as another number without being said, how many cells were written otherwise)."""
    rng = random.Random(seed)
    header = rng.choice(HEADERS)
    names = [f"Pupil {chr(65 + place % 26)}{'x' * (place // 26)}" for place in range(PUPILS)]
    made = [a_row(rng, name, share) for name in names]
    titles = [*header[:4], *(each.format(run) for run in (1, 2) for each in header[4:7]), *header[7:]]
    path = folder / f"class{seed}.{rng.choice(('csv', 'xlsx'))}"
    save([titles, *(cells for cells, _, _ in made)], path, rng)
    toml = folder / "practical.toml"
    toml.write_text(DRAIN, encoding="utf-8")
    tree = json.loads(results_text(judged_tree(path, str(toml), ())))
    said = {
        each["cell"].rpartition("!")[2] for kind in ("ignored_cells", "rejected_cells") for each in tree["cells"][kind]
    }
    students = {each["student"]: each for each in tree["students"]}
    wrong = []
    for number, (cells, meanings, _) in enumerate(made, start=2):
        read = values(students.get(cells[0]))
        for place, (value, meaning) in enumerate(zip(read, meanings[1:], strict=True), start=1):
            address = f"{openpyxl.utils.get_column_letter(place + 1)}{number}"
            if value is None and address in said:
                continue
            if value is None or abs(Decimal(str(value)) - Decimal(meaning)) > Decimal("1e-9"):
                wrong.append(f"{cells[place]!r} in {titles[place]}: {value}")
    return wrong, sum(sum(changed) for _, _, changed in made)


def values(student: dict | None) -> list[float | None]:
    """What was read of a student, in the order of the columns."""
    if student is None:
        return [None] * 11
    runs = {each["label"]: each for each in student["runs"]}
    read = [
        runs.get(label, {}).get(key) for label in ("Rough", "1", "2") for key in ("initial", "final", "claimed_titre")
    ]
    return [*read, student["claimed"]["mean_titre"], student["claimed"]["result"]]


def wrong_pairs(seed: int, folder, share: float = 0.3) -> tuple[list[str], int]:
    """The same of sheets with both readings of a run in one cell."""
    rng = random.Random(seed)
    rows, meanings = [["Student", "Rough", "Run 1", "Run 2", "Mean titre", "Result"]], []
    for place in range(PUPILS):
        cells, known = [f"Pupil {chr(65 + place % 26)}{'x' * (place // 26)}"], []
        for _ in range(3):
            initial = Decimal(5 * rng.randrange(0, 200)) / 100
            titre = Decimal(2530 + 5 * rng.randrange(-6, 7)) / 100
            first, last = f"{initial:.2f}", f"{initial + titre:.2f}"
            way = rng.choice(PAIR_WAYS) if rng.random() < share else "{a} - {b}"
            comma = {"e": first.replace(".", ","), "f": last.replace(".", ",")}
            cells.append(way.format(a=first, b=last, t=titre.normalize(), **comma))
            known.append((initial, initial + titre) if "0-" not in way else (Decimal(0), initial + titre))
        rows.append([*cells, "25.30", "0.101"])
        meanings.append(known)
    path, toml = folder / f"pairs{seed}.{rng.choice(('csv', 'xlsx'))}", folder / "practical.toml"
    save(rows, path, rng)
    toml.write_text(DRAIN, encoding="utf-8")
    tree = json.loads(results_text(judged_tree(path, str(toml), ())))
    said = {
        each["cell"].rpartition("!")[2] for kind in ("ignored_cells", "rejected_cells") for each in tree["cells"][kind]
    }
    students = {each["student"]: each for each in tree["students"]}
    wrong = []
    for number, (cells, known) in enumerate(zip(rows[1:], meanings, strict=True), start=2):
        runs = {run["label"]: run for run in students.get(cells[0], {"runs": []})["runs"]}
        for column, label, ends in zip("BCD", ("Rough", "1", "2"), known, strict=True):
            run = runs.get(label, {})
            read = [run.get("initial"), run.get("final")]
            # Readings in the other order are taken the other way round, and that is said.
            turned = [each for each in read if each is not None]
            if f"{column}{number}" in said and (None in read or not turned):
                continue
            if run.get("claimed_titre") is not None and cells["ABCD".index(column)] == str(run["claimed_titre"]):
                continue
            if None in read or sorted(Decimal(str(each)) for each in turned) != sorted(ends):
                wrong.append(f"{cells['ABCD'.index(column)]!r} in {label}: {read}")
    return wrong, round(PUPILS * 3 * share)


def all_wrong(reads, folder, wanted: int) -> list[str]:
    wrong, tried, seed = [], 0, 0
    while tried < wanted:
        more, changed = reads(seed, folder)
        wrong += more
        tried += changed
        seed += 1
    return wrong


@pytest.mark.slow
@pytest.mark.parametrize("reads", [silently_wrong, wrong_pairs])
def test_no_number_is_read_as_another_one(reads, tmp_path):
    assert all_wrong(reads, tmp_path, QUICK) == []


@pytest.mark.slow
@pytest.mark.parametrize("reads", [silently_wrong, wrong_pairs])
def test_no_number_of_many_is_read_as_another_one(reads, tmp_path):
    assert all_wrong(reads, tmp_path, MANY) == []
