"""Where things stand on the class distribution: axis, dots, bands and words, as plain figures for `chart` to draw.

A dot stands at its exact result and rises to the lowest level at which it touches no other: equal results stack.
The frame holds the reference, the class centre and the marking bands; who lies far outside it is counted at its edge.
"""

import math
import unicodedata
from collections.abc import Callable, Sequence
from statistics import median
from typing import Any, NamedTuple

from labmark.dataclass import dataclass, replace
from labmark.outputs import numbers
from labmark.outputs.each import reference_test
from labmark.outputs.number_line import Axis, stack
from labmark.practical.equation import shown_formula
from labmark.units import shown_unit
from labmark.words import begun, counted

Tree = dict[str, Any]

WIDTH, HEIGHT = 9.6, 5.4
"""Size of the figure [in]: 16 to 9, as a projector shows it."""
LEFT, RIGHT = 0.45, 9.15
"""Ends of the frame [in]."""
RULER, FLOOR, CEILING = (1.44, 1.82), 1.94, 3.40
"""Heights of the ruler of marks, of the lowest dots and of the highest [in]."""
DOT_SIZES = (0.21, 0.18, 0.155, 0.13, 0.105, 0.085)
"""Diameters of a dot that are tried, largest first [in]; the last is used whatever comes, its dots overlapping."""
LETTER = 0.135
"""About the width of a letter of the large size [in]; whether a label fits is reckoned with it."""
TICKS = 6
"""About as many ticks as fit without touching."""
SPREADS_SHOWN = 5.0
"""The frame reaches as many robust standard deviations either side; who lies further stands at its edge."""
ROUNDING_OF_TITRE = 1e-3
"""Relative disagreement, from titres rounded to 0.01 cm³, up to which titre and result are taken as one scale."""


Bands = tuple[tuple[float, float, float], ...]
"""Marking bands (mark, low, high), best first."""


class Dot(NamedTuple):
    """A student on the chart."""

    value: float
    """Result in the unit of the axis."""
    concordant: bool


@dataclass(frozen=True, slots=True)
class Picture:
    """All that the chart shows, in the unit of its axis."""

    axis: Axis
    label: str
    """What the axis shows."""
    dots: tuple[Dot, ...]
    reference: float | None
    standard_uncertainty: float | None
    centre: float | None
    bands: Bands
    unit: str
    from_class: bool = False
    """The reference is the class's own centre."""
    differences: bool = False
    """Each student is shown as the difference [%] from a reference of their own."""
    titres: Callable[[float], float] | None = None
    """Titre [cm³] -> value on the axis; None where there is no one relation between the two."""
    title: str = ""
    doubtful: bool = False
    """The class puts the reference in doubt."""

    def inches(self, value: float) -> float:
        """Return the place of a value on the figure [in]."""
        return self.axis.at(value, LEFT, RIGHT)

    def value(self, student: Tree) -> float | None:
        """Return what the axis shows of a student; None where there is nothing."""
        value = student["percent_error"] if self.differences else (student["result"] or {}).get("value")
        return None if value is None else float(value)


def picture_of(tree: Tree) -> Picture:
    """Return what the chart shows: results, or differences from each student's own reference where those differ."""
    present = [one for one in tree["students"] if one["result"]]
    own = {one["reference"]["value"] for one in present if one["reference"]}
    seen = _differences(tree, present) if len(own) > 1 else _results(tree, present)
    return replace(seen, title=tree["practical"]["title"], doubtful=_is_doubted(tree))


def _is_doubted(tree: Tree) -> bool:
    """Return whether the class puts the reference of the result that the tree is about in doubt."""
    name = tree["practical"]["result"].get("name")
    found = (each for each in tree["class"]["findings"] if each["finding"] == "reference-doubtful")
    return any(each["evidence"].get("result") in (None, "", name) for each in found)


def _shown(of: str, practical: Tree) -> str:
    """Return a species as the equation prints it: Fe²⁺, whose figure belongs to the charge."""
    printed = str(practical["derived"]["equation"]).replace(",", " ").split()
    plain = {unicodedata.normalize("NFKC", each).replace("−", "-"): each for each in printed}
    return plain.get(of.replace("^", ""), shown_formula(of))


def _results(tree: Tree, present: Sequence[Tree]) -> Picture:
    """Return the picture of a class by its results."""
    group, reference, result = tree["class"], tree["reference"] or {}, tree["practical"]["result"]
    dots = tuple(Dot(float(one["result"]["value"]), bool(one["concordant"])) for one in present)
    bands = tuple((band["mark"], float(band["low"]), float(band["high"])) for band in group["bands"])
    value, spread, centre = reference.get("value"), reference.get("standard_uncertainty"), group["robust_mean"]
    middle, seen = value if centre is None else centre, zip(present, dots, strict=True)
    axis = frame(dots, middle, group["robust_sd"], _fixed(value, spread, middle, bands))
    of, unit = _shown(result["of"], tree["practical"]), shown_unit(tree["practical"]["unit"])
    label = f"{result['quantity']} of {of}{f', {unit}' if unit else ''}"
    titres = titre_scale([(float(one["mean_titre"]), dot.value) for one, dot in seen if one["mean_titre"]])
    from_class = reference.get("from") == "class"
    return Picture(axis, label, dots, value, spread, centre, bands, unit, from_class, titres=titres)


def _differences(tree: Tree, present: Sequence[Tree]) -> Picture:
    """Return the picture of a class with several references: each student against their own, in per cent."""
    there = [one for one in present if one["percent_error"] is not None]
    dots = tuple(Dot(float(one["percent_error"]), bool(one["concordant"])) for one in there)
    spread, bands = _spread_in_percent(present), _bands_in_percent(tree)
    values = [dot.value for dot in dots]
    middle = median(values or [0.0])
    width = 1.483 * median(abs(value - middle) for value in values) if values else None
    centre = reference_test(tree).get("shift_percent")
    held = middle if centre is None else centre
    axis = frame(dots, held, width, _fixed(0.0, spread, held, bands))
    label = "difference from their own reference, %"
    return Picture(axis, label, dots, 0.0, spread, centre, bands, "%", differences=True)


def _spread_in_percent(present: Sequence[Tree]) -> float | None:
    """Return the largest standard uncertainty of a reference [% of it]; None where none is stated."""
    stated = [one["reference"] for one in present if (one["reference"] or {}).get("standard_uncertainty")]
    shares = (100 * float(each["standard_uncertainty"]) / float(each["value"]) for each in stated)
    return max(shares, default=None)


def _bands_in_percent(tree: Tree) -> Bands:
    """Return the marking bands as differences [%] from the reference that they stand about."""
    reference = tree["reference"]["value"]
    return tuple(
        (band["mark"], *(100 * (float(band[end]) / reference - 1) for end in ("low", "high")))
        for band in tree["class"]["bands"]
    )


def _fixed(reference: float | None, uncertainty: float | None, centre: float | None, bands: Bands) -> list[float]:
    """Return what has to lie within the frame whatever the results: reference, centre and marking bands."""
    fixed = [x for band in bands for x in band[1:]] + [x for x in (reference, centre) if x is not None]
    if reference is not None and uncertainty:
        fixed += [reference + sign * 2 * uncertainty for sign in (-1, 1)]
    return fixed


def frame(dots: Sequence[Dot], middle: float | None, spread: float | None, fixed: Sequence[float]) -> Axis:
    """Return the axis that holds what is `fixed`, and every result that lies near the middle (of the dots, where None).

    "Near" is within `SPREADS_SHOWN` robust standard deviations of it, or within half as far again as the widest marking
    band: one wild result must not squeeze the class into a single column.
    """
    values = [dot.value for dot in dots]
    middle = median(values or [0.0]) if middle is None else middle
    reach = max([SPREADS_SHOWN * (spread or 0.0)] + [1.5 * abs(x - middle) for x in fixed])
    near = [x for x in values if abs(x - middle) <= reach] if reach > 0 else list(values)
    ends = [*fixed, *near, middle]
    low, high = min(ends), max(ends)
    margin = 0.09 * (high - low) or 0.02 * abs(middle) or 1.0
    return Axis(low - margin, high + margin)


def titre_scale(pairs: Sequence[tuple[float, float]]) -> Callable[[float], float] | None:
    """Return the function titre [cm³] -> result that all (titre, result) pairs lie on, or None.

    Tried in turn: in proportion (the unknown in the flask), inversely (the unknown in the burette, a molar mass), and a
    straight line (a back titration).
    """
    if not pairs or any(titre <= 0 for titre, _ in pairs):
        return None
    ratio = median(value / titre for titre, value in pairs)
    product = median(value * titre for titre, value in pairs)
    tried: list[Callable[[float], float]] = [lambda titre: ratio * titre, lambda titre: product / titre]
    first, last = min(pairs), max(pairs)
    if last[0] > first[0]:
        slope = (last[1] - first[1]) / (last[0] - first[0])
        tried.append(lambda titre: first[1] + slope * (titre - first[0]))
    fits = (one for one in tried if all(math.isclose(one(t), v, rel_tol=ROUNDING_OF_TITRE) for t, v in pairs))
    return next(fits, None)


def fitting(places: Sequence[float]) -> tuple[float, float, list[int]]:
    """Return diameter, rise from one level to the next [in], and the level of each dot, so that all stay in the frame.

    Where even the smallest dots would rise too high (sixty equal results), they overlap, and the chart counts them.
    """
    room = CEILING - FLOOR
    for size in DOT_SIZES:
        levels = stack(places, size)
        needed = (max(levels, default=0) + 1) * size
        if needed <= room:
            return size, size, levels
    return size, size * (room - size) / (needed - size), levels


def titre_spots(picture: Picture) -> list[tuple[float, str]]:
    """Return (value on the axis, label) of the ticks in cm³ of titre."""
    relation, axis = picture.titres, picture.axis
    if relation is None:
        return []
    low, high = sorted(_titre_at(relation, end) for end in (axis.low, axis.high))
    marks = Axis(low, max(high, low + 1e-3)).numbers(TICKS)
    spots = [(relation(titre), label) for titre, label in marks if titre > 0]
    return [(value, label) for value, label in spots if axis.holds(value)]


def _titre_at(relation: Callable[[float], float], value: float) -> float:
    """Return the titre [cm³] at a value, by halving; the relation is monotonic between a drop and a litre."""
    low, high = 0.01, 1000.0
    rising = relation(high) > relation(low)
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if (relation(middle) < value) == rising else (low, middle)
    return (low + high) / 2


def labels_of(picture: Picture) -> list[tuple[float, str, float, int]]:
    """Return (value, words, height [in], side of the line: 1 right, -1 left) for the two lines, a row each."""
    labels: list[tuple[float, str, float, int]] = []
    reference = None if picture.from_class else picture.reference
    middle = (picture.axis.low + picture.axis.high) / 2
    if reference is not None:
        labels.append((reference, reference_words(picture), CEILING + 0.54, -1 if reference > middle else 1))
    if picture.centre is not None:
        text = f"class centre {centre_words(picture)}"
        roomy = abs(picture.inches(picture.centre) - (LEFT + RIGHT) / 2) < 0.8
        # Side by side where there is room, so that neither word crosses the other's line.
        left = picture.centre < reference if roomy and reference is not None else picture.centre > middle
        labels.append((picture.centre, text, CEILING + 0.22, -1 if left else 1))
    return labels


def centre_words(picture: Picture) -> str:
    """Return the figure of the class centre."""
    if picture.differences:
        return numbers.percent(picture.centre)
    return numbers.significant(picture.centre, 4)


def reference_words(picture: Picture) -> str:
    """Return the words for the reference, with its expanded uncertainty where that is known and nobody doubts it."""
    if picture.differences:
        return "own reference, being checked" if picture.doubtful else "own reference"
    spread = picture.standard_uncertainty
    value, expanded = numbers.with_uncertainty(picture.reference, None if spread is None else 2 * spread)
    if picture.doubtful:
        return f"reference being checked: {value}"
    return f"reference {value}" + ("" if expanded == numbers.NOTHING else f" ± {expanded}")


def words(picture: Picture) -> str:
    """Return the alternative text: how many, where, against what, and who lies outside."""
    if not picture.dots:
        return "Distribution of the class: no student has a result yet."
    inside = [dot.value for dot in picture.dots if picture.axis.holds(dot.value)]
    parts = [f"Distribution of the class: {counted(len(picture.dots), 'result')}, one dot each."]
    if inside:
        ends = [numbers.significant(value, 4) for value in (min(inside), max(inside))]
        parts.append(f"{len(inside)} within the frame, from {ends[0]} to {ends[1]} {picture.unit}".rstrip() + ".")
    marked = labels_of(picture) if not picture.differences else ()
    parts += [f"{begun(text)} {picture.unit}".rstrip() + "." for _, text, *_ in marked]
    if picture.differences and picture.centre is not None:
        parts.append(f"Class centre {centre_words(picture)} from the reference.")
    parts += _bands_in_words(picture)
    outside = len(picture.dots) - len(inside)
    if outside:
        parts.append(f"{outside} further out than the frame.")
    return " ".join(parts)


def _bands_in_words(picture: Picture) -> list[str]:
    """Return how many results lie in each marking band (the narrowest that holds them)."""
    parts: list[str] = []
    left = [dot.value for dot in picture.dots]
    for mark, low, high in picture.bands:
        parts.append(f"{sum(low <= value <= high for value in left)} in the band for {numbers.mark(mark)}")
        left = [value for value in left if not low <= value <= high]
    return [f"Marking bands: {'; '.join(parts)}; {len(left)} outside."] if parts else []
