"""The class distribution chart: one dot a student, against the reference and the marking bands.

The chart may be shown to the class, so it bears no names. What means something is told by shape and by words, never
by colour alone: a full dot rests on concordant runs, a ring does not; the reference is a solid line with a shaded
band, the class centre a dashed one; the marking bands are a ruler of greys under the dots, each with its mark written
in it. Where the reference is in doubt, that is written on it and what rests on it hatched. It is drawn for a projector:
1920 × 1080 dots, letters to be read at eight metres, words that pupils understand.

Here is what stands where, in inches on one picture; `templates/chart.svg.j2` draws it. Letters in the SVG stay letters:
the file is a fraction of the size, can be searched, and falls back to the reader's own sans serif where DejaVu Sans is
missing; nothing in the layout depends on a width of text but the paper behind some words.
"""

from collections.abc import Callable, Iterator
from functools import cache
from typing import Any, NamedTuple

from jinja2 import Environment

from labmark.outputs import layout, numbers
from labmark.outputs.each import results_of
from labmark.outputs.engine import engine
from labmark.outputs.forms import forms_of
from labmark.outputs.layout import FLOOR, HEIGHT, LEFT, LETTER, RIGHT, WIDTH, Picture, Tree
from labmark.outputs.names import safe_name, unlike
from labmark.outputs.press import png
from labmark.outputs.table import NOT_TEXT
from labmark.words import counted, shortened

Say = Callable[[str], str]
"""From words to those of the class's language, in its forms."""
ROOM = 44
"""Letters of a title of 20 points; a longer one is set smaller, and cut off where it would be below 15 points."""
DARK = {
    "#1d2a30": "#e7ebea", "#56646b": "#a9b5b9", "#ffffff": "#1b2327", "#0b5563": "#7cc7d4", "#e9f1f2": "#21363c",
    "#8fb0b6": "#5f8790", "#c9d3d6": "#43545c", "#dbe2e4": "#36454c", "#ebeff0": "#2c393f", "#f6f8f8": "#243036",
}  # fmt: skip
"""Colour -> the one that stands for it on a dark page."""


class Chart(NamedTuple):
    """A chart in both formats, with the words for those who cannot see it."""

    svg: bytes
    png: bytes
    alt: str
    panels: int = 1
    """One a result, under each other."""


def distribution(tree: Tree) -> Chart:
    """Return the distribution chart of a class, a panel for each result (the same tree gives the same bytes)."""
    pictures, say = {name: layout.picture_of(one) for name, one in results_of(tree).items()}, forms_of(tree)
    alt = say(" ".join(f"{name}: {layout.words(one)}" if name else layout.words(one) for name, one in pictures.items()))
    title, _, description = alt.partition(": ")
    tall, panels = HEIGHT * len(pictures), [_panel(each, say) for each in pictures.values()]
    template = _environment().get_template("chart.svg.j2")
    drawn = template.render(title=title, description=description, tall=tall, panels=panels)
    svg = NOT_TEXT.sub("", drawn).encode()
    return Chart(svg, png(svg, WIDTH, tall), alt, len(panels))


def each_distribution(tree: Tree) -> Iterator[tuple[str, Chart]]:
    """Yield (name of the file, chart) of a class of several results, one a result, to be shown one by one."""
    seen, taken = results_of(tree), set[str]()
    for name, one in seen.items() if len(seen) > 1 else ():
        alone = {key: value for key, value in one["class"].items() if key != "by_result"}
        yield unlike(f"distribution {safe_name(name)}", taken), distribution({**one, "class": alone})


@cache
def _environment() -> Environment:
    return engine({}, {"at": layout, "across": _points, "down": lambda up: _points(HEIGHT - up)})


def _points(inches: float) -> str:
    return f"{72 * inches:.2f}"


def with_dark_variant(svg: bytes) -> bytes:
    """Return a picture that takes other colours on a dark page."""
    rules = "".join(
        f'[style*="{what}: {light}"]{{{what}:{dark}!important}}'
        for light, dark in DARK.items()
        for what in ("fill", "stroke")
    )
    return svg.replace(b"<title>", f"<style>@media (prefers-color-scheme: dark){{{rules}}}</style><title>".encode(), 1)


def _panel(picture: Picture, say: Say) -> dict[str, Any]:
    """Return what the template draws of a picture, beside the picture itself."""
    place, spread, axis = picture.inches, picture.standard_uncertainty, picture.axis
    value, shaded, title = picture.reference, None, shortened(say(picture.title), ROOM * 20 // 15)
    if value is not None and spread:
        shaded = place(value - 2 * spread), place(value + 2 * spread)
    return {
        "picture": picture,
        "title": title,
        "title_size": round(20 * min(1.0, ROOM / max(len(title), 1)), 1),
        "results": say(counted(len(picture.dots), "result")),
        "nothing": "" if picture.dots or value is not None else say("No student has a result yet."),
        "shaded": shaded,
        "reference": None if value is None or picture.from_class else place(value),
        "centre": None if picture.centre is None else place(picture.centre),
        "bands": [(place(low), place(high)) for _, low, high in picture.bands],
        "marks": [*_band_labels(picture, say)],
        "labels": [*_labels(picture, say)],
        **_dots(picture, say),
        "beyond": [*_beyond(picture, say)],
        "ticks": [(place(at), say(label)) for at, label in axis.numbers(layout.TICKS)],
        "label": say(picture.label),
        "key": [
            (0.0, True, say("a student whose runs agree")),
            (3.82, False, say("a student whose runs do not agree")),
        ],
        "shades": say(_shades(picture)),
        "titres": [(place(at), say(label)) for at, label in layout.titre_spots(picture)],
        "of_titres": say("mean titre, cm³"),
    }


def _band_labels(picture: Picture, say: Say) -> Iterator[tuple[float, str]]:
    """Yield the mark of each part of the ruler that has room for it, with the middle of the part."""
    inner: tuple[float, float] | None = None
    for mark, low, high in (*picture.bands, (0.0, picture.axis.low, picture.axis.high)) if picture.bands else ():
        for start, end in [(low, high)] if inner is None else [(low, inner[0]), (inner[1], high)]:
            a, b = picture.inches(start), picture.inches(end)
            text = counted(int(mark), "mark") if float(mark).is_integer() else f"{numbers.mark(mark)} marks"
            if b - a >= 0.24:
                yield (a + b) / 2, say(text if b - a >= 1.0 else numbers.mark(mark))
        inner = (low, high)


def _labels(picture: Picture, say: Say) -> Iterator[tuple[float, float, str, str]]:
    """Yield the words of the two lines: where they begin or end, and how high."""
    for value, text, y, side in layout.labels_of(picture):
        said = say(text)
        x, room = picture.inches(value) + 0.09 * side, LETTER * len(said)
        # A long label may reach over its line, but not off the picture.
        x = min(x, WIDTH - 0.1 - room) if side > 0 else max(x, 0.1 + room)
        yield x, y, said, "start" if side > 0 else "end"


def _dots(picture: Picture, say: Say) -> dict[str, Any]:
    """Return the dots, and beside the highest how many lie at one place where they overlap."""
    inside = [dot for dot in picture.dots if picture.axis.holds(dot.value)]
    places = [picture.inches(dot.value) for dot in inside]
    size, rise, levels = layout.fitting(places)
    heights = [FLOOR + size / 2 + level * rise for level in levels]
    dots = [(x, y, dot.concordant) for x, y, dot in zip(places, heights, inside, strict=True)]
    highest = max(dots, key=lambda dot: dot[1]) if rise < size else None
    crowded = [(highest[0] + size, highest[1], say(f"{max(levels) + 1} at one place"))] if highest else []
    return {"dots": dots, "size": size, "crowded": crowded}


def _beyond(picture: Picture, say: Say) -> Iterator[tuple[float, int, str, str]]:
    """Yield how many lie outside the frame, at either edge, and which way."""
    for side, edge, way, anchor in (("left", LEFT, -1, "start"), ("right", RIGHT, 1, "end")):
        if count := sum(picture.axis.side(dot.value) == side for dot in picture.dots):
            yield edge, way, anchor, say(f"{count} further out")


def _shades(picture: Picture) -> str:
    """Return what is shaded, or hatched."""
    if picture.doubtful:
        return "hatched: being checked, and may change"
    if not picture.standard_uncertainty:
        return ""
    if picture.from_class:
        return "shaded: the middle of the class with its uncertainty"
    return "shaded: where the true value very likely lies"
