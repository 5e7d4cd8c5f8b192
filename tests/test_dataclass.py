"""Records: made with another value, compared, hashed, shown and sent as those of the dataclasses module are."""

import pickle

import pytest

from labmark.dataclass import dataclass, field, replace
from labmark.facts import Run


@dataclass(frozen=True, slots=True)
class Reading:
    volume: int
    decimals: int | None = None


@dataclass(frozen=True)
class Burette:
    capacity: int
    name: str = ""
    marks: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        if not self.name:
            object.__setattr__(self, "name", f"{self.capacity} cm³")


@dataclass(frozen=True, eq=False)
class Table:
    rows: int


@dataclass(slots=True)
class Entry:
    text: str


def test_another_value_leaves_the_record_as_it_was():
    run = Run("1", rough=False, initial=0, final=24350)
    other = replace(run, titre=24350, usable=True)
    assert (other.titre, other.usable, other.initial, other.label) == (24350, True, 0, "1")
    assert run.titre is None
    assert not run.usable


def test_what_follows_from_other_fields_is_worked_out_again():
    assert replace(Burette(50), capacity=25, name="").name == "25 cm³"


def test_a_field_that_is_not_there_is_refused():
    with pytest.raises(KeyError):
        replace(Reading(1), volumes=2)


def test_records_are_the_same_where_kind_and_values_are():
    assert Reading(1, 2) == Reading(1, 2) != Reading(1, 3)
    assert Entry("a") == Entry("a")
    assert Reading(1) != (1, None)
    assert Table(1) != Table(1)


def test_a_frozen_record_has_a_hash_and_another_has_none():
    assert len({Reading(1), Reading(1), Reading(2)}) == 2
    assert len({Table(1), Table(1)}) == 2
    with pytest.raises(TypeError, match="unhashable"):
        hash(Entry("a"))


def test_a_record_shows_its_values():
    assert repr(Reading(1)) == "Reading(volume=1, decimals=None)"


def test_a_record_goes_to_another_process_and_back():
    assert pickle.loads(pickle.dumps(Reading(1, 2))) == Reading(1, 2)
