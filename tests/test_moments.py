"""When the work was done, and the places in the order of work that it gives."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from pathlib import Path

import pytest

from labmark.read import read_class
from labmark.read.grid import Cell
from labmark.read.headers import understand
from labmark.read.moments import in_order, moment_of, places, whole
from tests.columns import students_of

DAY = dt.date(2026, 3, 22).toordinal()
AT = 3600 * 14 + 60 * 5
"""14:05."""


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        ("14:05", (None, AT)),
        ("14:05:30", (None, AT + 30)),
        ("2:05 pm", (None, AT)),
        ("2:05 P.M.", (None, AT)),
        ("12:05 am", (None, 300)),
        ("14:05 Uhr", (None, AT)),
        ("14h05", (None, AT)),
        ("2026-03-22 14:05", (DAY, AT)),
        ("2026-03-22T14:05:00", (DAY, AT)),
        ("22.03.2026 14:05", (DAY, AT)),
        ("22/3/26, 14:05", (DAY, AT)),
        ("3/22/2026 14:05:00", (DAY, AT)),
        (dt.time(14, 5), (None, AT)),
        (dt.datetime(2026, 3, 22, 14, 5), (DAY, AT)),
        (dt.timedelta(hours=14, minutes=5), (None, AT)),
    ],
)
def test_times_are_read_as_they_are_written(value, expected):
    assert moment_of(Cell(value, "text" if isinstance(value, str) else "date")) == expected


@pytest.mark.parametrize(
    "value",
    [
        *("", "later", "14.05", "24.40", "1405", "25:00", "14:75", "13:05 pm", "2026-03-22", "14:05 - 14:20"),
        *(14.05, 0.587, 3, True, dt.datetime(2026, 3, 22), dt.timedelta(hours=30), dt.timedelta(hours=-1)),
    ],
)
def test_what_is_no_time_of_day_is_not_taken_for_one(value):
    assert moment_of(Cell(value)) is None


def test_places_follow_the_times_and_are_shared_at_the_same_time():
    assert places([(None, 300), (None, 100), None, (None, 300), (None, 500)]) == [2, 1, None, 2, 3]


def test_days_count_where_every_time_has_one():
    assert places([(2, 100), (1, 300)]) == [2, 1]
    assert places([(2, 100), (None, 300)]) == [1, 2]


def test_places_that_were_written_come_before_times():
    assert in_order([None, 3], [(None, 100), None]) == [None, 3]
    assert in_order([None, None], [(None, 100), None]) == [1, None]


@pytest.mark.parametrize(("number", "place"), [(Decimal(3), 3), (Decimal("3.5"), None), (None, None)])
def test_a_place_is_a_whole_number(number, place):
    assert whole(number) == place


@pytest.mark.parametrize(
    "header",
    [
        *("Time", "Time finished", "Time of reading", "Timestamp", "Finish time", "Date and time"),
        *("Uhrzeit", "Zeitstempel", "Heure", "Heure de fin", "Horodateur", "Hora", "Marca temporal"),
    ],
)
def test_headings_that_tell_when_the_work_was_done(header):
    assert understand(header).tells_when


@pytest.mark.parametrize(
    "header", ["Time taken", "Time to the end point", "Start time", "Date", "Dauer", "Durée", "Duración", "Time (min)"]
)
def test_headings_that_tell_something_else(header):
    assert not understand(header).tells_when


@pytest.mark.parametrize(
    "header",
    ["Order of work", "Sequence", "Order no.", "Running order", "Arbeitsreihenfolge", "Ordre de travail", "Secuencia"],
)
def test_headings_that_tell_the_order_of_work(header):
    assert understand(header).field == "order"


@pytest.mark.parametrize("header", ["No.", "Nr", "N", "#", "Numéro", "Número"])
def test_a_running_number_is_the_list_s_and_no_order_of_work(header):
    assert understand(header).field == "ignored"


RUNS = "0.00,24.40,0.00,24.45"


def orders(tmp_path: Path, header: str, *cells: str):
    """Return the order of work that a column gives, and the account of the sheet."""
    lines = [f"Student,{header},Run 1 initial,Run 1 final,Run 2 initial,Run 2 final"]
    lines += [f"S{at},{cell},{RUNS}" for at, cell in enumerate(cells)]
    (tmp_path / "class.csv").write_text("\n".join(lines), encoding="utf-8")
    sheet = read_class(tmp_path / "class.csv")
    return students_of(sheet)["order"], sheet.ledger


def test_a_column_of_times_gives_the_order_and_every_cell_is_accounted_for(tmp_path: Path):
    order, ledger = orders(tmp_path, "Time finished", "14:35", "13:50", "", "later", "14:35")
    assert order == [2, 1, None, None, 2]
    assert {"B2", "B3", "B6"} <= ledger.used
    assert "B5" in ledger.ignored
    assert not ledger.rejected
    assert len(ledger.used) + len(ledger.ignored) == 6 + 4 + 5 * 5


def test_a_column_of_the_order_comes_before_one_of_times(tmp_path: Path):
    order, ledger = orders(tmp_path, "Order,Time", "2,13:00", "1,14:00")
    assert order == [2, 1]
    assert {"C2", "C3"} <= ledger.ignored.keys()


def test_times_may_stand_under_the_heading_of_the_order(tmp_path: Path):
    assert orders(tmp_path, "Order of work", "14:35", "13:50")[0] == [2, 1]


def test_a_running_number_gives_no_order(tmp_path: Path):
    order, ledger = orders(tmp_path, "No.", "1", "2")
    assert order == [None, None]
    assert {"B2", "B3"} <= ledger.ignored.keys()
