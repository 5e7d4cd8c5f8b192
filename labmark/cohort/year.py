"""A year: what the same students did in several practicals, known by their ID. Pure: from digests to plain data.

What came before what is said by dates in the names of the classes' files and folders (2026-03-12), or else by the order
of the names. So a sentence on a sheet names the other practical and no time: it is true also where that order is not.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import PurePath
from typing import Any

import numpy as np

from labmark.analyse.apart import ALPHA, holm
from labmark.analyse.arrays import FloatArray
from labmark.cohort.find import natural
from labmark.cohort.technique import READING, line, technique, where
from labmark.findings import KINDS
from labmark.laws import two_sided_p

Digest = Mapping[str, Any]
Sittings = list[tuple[Digest, Mapping[str, Any]]]
"""A student's classes, in order, with the part of each that is about the student."""
Pairs = list[tuple[dict[str, float], list[dict[str, float]]]]
"""What is compared of the students of a class: now, and each time before."""
FEWEST = 5
"""Students of a class who must have done something before, for what the class learnt."""
_DATE = re.compile(r"(?<!\d)(?:19|20)\d\d-[01]\d(?:-[0-3]\d)?(?!\d)")


def date_of(file: str) -> str:
    """Return the date in the name of a class's file, or else of the nearest folder that has one; empty without.

    >>> date_of("2026-03 vinegar/10A.csv"), date_of("2026-03 vinegar/10A 2026-03-12.csv"), date_of("10A.csv")
    ('2026-03', '2026-03-12', '')
    """
    parts = reversed(PurePath(file.replace("\\", "/")).parts)
    return next((found[0] for part in parts if (found := _DATE.search(part))), "")


class Year:
    """Who did what in which class: the classes that could be used, in order."""

    def __init__(self, digests: Sequence[Digest]) -> None:
        usable = [each for each in digests if each["error"] is None]
        self.order = sorted(usable, key=lambda each: [natural(part) for part in PurePath(each["file"]).parts])
        self.dated = all(date_of(each["file"]) for each in usable)
        if self.dated:
            self.order.sort(key=lambda each: date_of(each["file"]))
        # The same file under another name is no second practical, unless it is one of another day.
        seen = {(each["sha256"], self.dated and date_of(each["file"])): each for each in reversed(self.order)}
        self.order = list(seen.values())[::-1]
        found: dict[str, Sittings] = {}
        for each in self.order:
            for one in each["people"]:
                if one["ID"] and one["technique"]:
                    found.setdefault(one["ID"], []).append((each, one))
        sure = {known: own for known, own in found.items() if _one_person(own)}
        self.unsure = [known for known in found if known not in sure]
        """IDs that do not stand for one person."""
        # Where more of them are shared than are not, they number the rows of a sheet and know nobody.
        self.students = sure if sum(len(own) > 1 for own in sure.values()) >= len(self.unsure) else {}
        """ID -> the classes in which the student did something, in order."""

    def earlier(self, known: str, name: str) -> list[dict[str, Any]]:
        """Return what a student did before a class, the latest last; of two on one day neither was before."""
        own = self.students.get(known, [])
        titles = [each["title"] for each, _ in own]
        now = next((place for place, (each, _) in enumerate(own) if each["name"] == name), 0)
        return [
            {"where": where(each, date_of(each["file"]), titles), "student": one["student"], **one["technique"]}
            for each, one in own[:now]
            if not self.dated or not date_of(own[now][0]["file"]).startswith(date_of(each["file"]))
        ]

    def earlier_in(self, name: str) -> dict[str, list[dict[str, Any]]]:
        """Return ID -> what the students of a class did before. Plain data, as `told` takes it."""
        return {known: before for known in self.students if (before := self.earlier(known, name))}


def _one_person(own: Sittings) -> bool:
    names = [one["student"] for _, one in own]
    return len({each["name"] for each, _ in own}) == len(own) and all(alike(names[0], name) for name in names[1:])


def alike(one: str, other: str) -> bool:
    """Return whether two names may be one person's: the words of the shorter, or their initials, stand in the other.

    >>> alike("Ada K.", "King, Ada"), alike("Ada King", "Ben King"), alike("Ada", "Adam")
    (True, False, False)
    """
    short, long = sorted((re.findall(r"\w+", name.casefold()) for name in (one, other)), key=len)
    return all(part in {*long, *(word[0] for word in long)} or part[0] in long for part in short)


def told(students: Sequence[dict[str, Any]], earlier: Mapping[str, Any]) -> None:
    """Put a line on how the work differs from what came before into the record of each student."""
    for one in students:
        before, now = earlier.get(one["about"].get("ID", ""), []), technique(one)
        if before and now and all(alike(one["student"], each["student"]) for each in before):
            one |= {"progress": said} if (said := line(now, before)) else {}


# For the teacher ----------------------------------------------------------------------------------------------------


def year(digests: Sequence[Digest]) -> dict[str, Any] | None:
    """Return the students' work over several practicals; None where nobody is known to have done more than one."""
    of = Year(digests)
    several = {known: own for known, own in of.students.items() if of.earlier(known, own[-1][0]["name"])}
    if not several:
        return None
    among = {each["name"] for own in several.values() for each, _ in own}
    students = [_student(of, known, own) for known, own in several.items()]
    return {
        "by": "date" if of.dated else "name",
        "order": [each["name"] for each in of.order if each["name"] in among],
        "without_id": sum(not one["ID"] and bool(one["technique"]) for each in of.order for one in each["people"]),
        "unsure": of.unsure,
        "learnt": _learnt(of, several),
        "students": sorted(students, key=lambda one: (-len(one["again"]), not one["said"], one["student"], one["ID"])),
    }


def _student(of: Year, known: str, sittings: Sittings) -> dict[str, Any]:
    now, last = sittings[-1]
    slips = [code for _, one in sittings for code in one["technique"]["slips"]]
    return {
        "ID": known,
        **{key: last[key] for key in ("student", "number")},
        "class": now["name"],
        "sittings": [{"class": each["name"], **_sitting(one["technique"])} for each, one in sittings],
        "again": sorted({code for code in slips if slips.count(code) > 1}),
        "said": line(last["technique"], of.earlier(known, now["name"])),
    }


def _sitting(one: Mapping[str, Any]) -> dict[str, Any]:
    (squares, dof), error = one["spread"], one["error"] or [None]
    return {"sd_of_titres": (squares / dof) ** 0.5 if dof else None, "percent_error": error[0], "slips": one["slips"]}


def _learnt(of: Year, several: Mapping[str, Sittings]) -> list[dict[str, Any]]:
    """Return how the students of each class did before and do now; all comparisons corrected for many (Holm)."""
    pairs: dict[str, Pairs] = {each["name"]: [] for each in of.order}
    for known, own in several.items():
        for each, one in own:
            if before := of.earlier(known, each["name"]):
                pairs[each["name"]].append((_measures(one["technique"]), list(map(_measures, before))))
    rows = [{"class": name, **row} for name, both in pairs.items() for row in _changes(both)]
    for row, p in zip(rows, holm([row["p"] for row in rows]), strict=True):
        better = "better" if (row["now"] > row["before"]) == row["what"].endswith("marks") else "worse"
        row |= {"p": p, "change": better if p < ALPHA else None}
    return rows


def _changes(pairs: Pairs) -> Iterator[dict[str, Any]]:
    for what in sorted({what for one, before in pairs for each in (one, *before) for what in each}):
        slip = what.endswith("students")
        # Who has not a finding has it in 0 %; where another measure is not known there is nothing to compare.
        both = [(_mean(before, what, slip), _mean([one], what, slip)) for one, before in pairs]
        known = np.array([pair for pair in both if None not in pair], dtype=np.float64)
        if len(known) >= FEWEST:
            means, p = known.mean(axis=0).tolist(), _chance(known[:, 1] - known[:, 0])
            yield {"what": what, "slip": slip, "students": len(known), "before": means[0], "now": means[1], "p": p}


def _measures(one: Mapping[str, Any]) -> dict[str, float]:
    """Return what is compared of a student's work in one practical: name -> value, of slips those that there are."""
    squares, dof = one["spread"]
    return {
        **({"spread of accurate runs, cm³": max(squares / dof, READING) ** 0.5} if dof else {}),
        **({"distance from the reference, %": abs(one["error"][0])} if one["error"] else {}),
        **{f"{name}, % of the marks": 100 * mark / out_of for name, (mark, out_of) in one["marks"].items()},
        **{f"{KINDS[code].title}, % of the students": 100.0 for code in one["slips"] if code in KINDS},
    }


def _mean(each: Sequence[Mapping[str, float]], what: str, slip: bool) -> float | None:
    values = [one.get(what, 0.0) for one in each if slip or what in one]
    return sum(values) / len(values) if values else None


def _chance(difference: FloatArray) -> float:
    """Return the chance of so large a mean difference of pairs, by Student's t."""
    error = difference.std(ddof=1) / difference.size**0.5
    return float(two_sided_p(difference.mean() / error, difference.size - 1)) if error else float(not difference.any())
