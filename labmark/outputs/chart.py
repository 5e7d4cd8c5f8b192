"""The class distribution chart: one dot a student, against the reference and the marking bands.

The only user of matplotlib. The chart may be shown to the class, so it bears no names. What means something is told
by shape and by words, never by colour alone: a full dot rests on concordant runs, a ring does not; the reference is a
solid line with a hatched band, the class centre a dashed one; the marking bands are a ruler of greys under the dots,
each with its mark written in it.

Everything is drawn in inches on one figure, with its own ticks: that is fast, and the same everywhere. Letters in the
SVG stay letters (`svg.fonttype` none): the file is a fraction of the size, can be searched, and falls back to the
reader's own sans serif where DejaVu Sans is missing; nothing in the layout depends on a width of text.
"""

from __future__ import annotations

import io
import logging
import os
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from labmark.outputs import numbers
from labmark.outputs.each import results_of
from labmark.outputs.forms import forms_of
from labmark.outputs.layout import (
    CEILING,
    FLOOR,
    HEIGHT,
    LEFT,
    RIGHT,
    RULER,
    WIDTH,
    Picture,
    Tree,
    fitting,
    labels_of,
    picture_of,
    ticks,
    titre_spots,
    words,
)
from labmark.problems import InputError, Problem

if TYPE_CHECKING:
    from collections.abc import Sequence
    from types import ModuleType

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK, SOFT, PAPER = "#1d2a30", "#56646b", "#ffffff"
ACCENT, PALE = "#0b5563", "#e9f1f2"
"""The reference: told from the class's line by being solid and labelled, not by its colour."""
MARK_GREYS = ("#c9d3d6", "#dbe2e4", "#ebeff0", "#f6f8f8")
"""Best band first; even the darkest lets the ink stand out 9 to 1."""


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart in both formats, with the words for those who cannot see it."""

    svg: bytes
    png: bytes
    alt: str
    panels: int = 1
    """One a result, under each other."""


def distribution(tree: Tree) -> Chart:
    """Return the distribution chart of a class, a panel for each result (the same tree gives the same bytes)."""
    mpl = _matplotlib()
    from matplotlib.text import Text

    settings: dict[Any, Any] = {key: value for key, value in mpl.rcParamsDefault.items() if key != "backend"}
    settings |= {"svg.hashsalt": "labmark distribution", "svg.fonttype": "none"}
    settings |= {"font.family": ["DejaVu Sans"], "hatch.linewidth": 0.6, "text.parse_math": False}
    pictures, forms = {name: picture_of(one) for name, one in results_of(tree).items()}, forms_of(tree)
    said = [f"{name}: {words(one)}" if name else words(one) for name, one in pictures.items()]
    with mpl.rc_context(settings):
        figure = draw(list(pictures.values()))
        for each in figure.findobj(Text):
            each.set_text(forms(each.get_text()))
        return Chart(_bytes(figure, "svg"), _bytes(figure, "png"), forms(" ".join(said)), len(said))


def _matplotlib() -> ModuleType:
    """Import matplotlib without what the user has set for it. Raises InputError where its settings cannot be read."""
    os.environ |= {"MPLBACKEND": "agg", "MATPLOTLIBRC": os.devnull}
    logging.getLogger("matplotlib").setLevel(logging.ERROR)
    try:
        import matplotlib as mpl
    except (OSError, ValueError) as error:  # a matplotlibrc in the folder that one works in is read all the same
        what = f"the settings of matplotlib here cannot be read ({error})"
        raise InputError(Problem(what, "move matplotlibrc elsewhere", "matplotlibrc")) from error
    return mpl


def _bytes(figure: Figure, kind: str) -> bytes:
    """Return the figure in a format, without date or maker: the same picture has the same bytes."""
    buffer = io.BytesIO()
    if kind == "svg":
        figure.savefig(buffer, format="svg", metadata={"Date": None})
    else:
        figure.savefig(buffer, format="png", dpi=160, metadata={"Software": None})
    return buffer.getvalue()


def draw(pictures: Sequence[Picture]) -> Figure:
    """Return the figure, the pictures under each other."""
    from matplotlib.figure import Figure

    share = 1 / len(pictures)
    figure = Figure(figsize=(WIDTH, HEIGHT * len(pictures)), facecolor=PAPER)
    for place, picture in enumerate(pictures, 1):
        _draw(figure.add_axes((0, 1 - place * share, 1, share)), picture)
    return figure


def _draw(axes: Axes, picture: Picture) -> None:
    axes.set(xlim=(0, WIDTH), ylim=(0, HEIGHT))
    axes.set_axis_off()
    _heading(axes, picture)
    if not picture.dots and picture.reference is None:
        _text(axes, WIDTH / 2, HEIGHT / 2, "No student has a result yet.", ha="center", fontsize=11)
        return
    _bands(axes, picture)
    _reference(axes, picture)
    _centre(axes, picture)
    _dots(axes, picture)
    _beyond(axes, picture)
    _axis(axes, picture)
    _titre_axis(axes, picture)


def _text(axes: Axes, x: float, y: float, text: str, **more: Any) -> None:
    style: dict[str, Any] = {"fontsize": 9, "color": INK, "va": "center", "parse_math": False} | more
    axes.text(x, y, text, **style)


def _line(axes: Axes, xs: Sequence[float], ys: Sequence[float], **more: Any) -> None:
    style: dict[str, Any] = {"color": INK, "linewidth": 1.0, "solid_capstyle": "butt"} | more
    axes.plot(xs, ys, **style)


def _bands(axes: Axes, picture: Picture) -> None:
    """Draw the ruler of marks: the widest band first, so that better ones lie upon it."""
    from matplotlib.patches import Rectangle

    if not picture.bands:
        return
    bottom, top = RULER
    place = picture.scale.inches
    axes.add_patch(Rectangle((LEFT, bottom), RIGHT - LEFT, top - bottom, facecolor=MARK_GREYS[-1], linewidth=0))
    for rank, (_, low, high) in reversed(list(enumerate(picture.bands))):
        grey = MARK_GREYS[min(rank, len(MARK_GREYS) - 2)]
        axes.add_patch(Rectangle((place(low), bottom), place(high) - place(low), top - bottom, facecolor=grey, lw=0))
        for end in (low, high):
            _line(axes, [place(end)] * 2, [bottom, top], linewidth=0.9)
            _line(axes, [place(end)] * 2, [top, CEILING], linewidth=0.6, color=SOFT, linestyle=(0, (1, 3)))
    _band_labels(axes, picture)
    _line(axes, [LEFT, RIGHT, RIGHT, LEFT, LEFT], [bottom, bottom, top, top, bottom], linewidth=0.9)


def _band_labels(axes: Axes, picture: Picture) -> None:
    """Write the mark into each part of the ruler that has room for it."""
    inner: tuple[float, float] | None = None
    for mark, low, high in (*picture.bands, (0.0, picture.scale.low, picture.scale.high)):
        ends = (low, high) if inner is None else None
        parts = [ends] if ends else [(low, inner[0]), (inner[1], high)] if inner else []
        for start, end in parts:
            a, b = picture.scale.inches(start), picture.scale.inches(end)
            text = numbers.count(int(mark), "mark") if float(mark).is_integer() else f"{numbers.mark(mark)} marks"
            if b - a >= 0.14:
                label = text if b - a >= 0.62 else numbers.mark(mark)
                _text(axes, (a + b) / 2, sum(RULER) / 2 - 0.01, label, ha="center", fontsize=8)
        inner = (low, high)


def _reference(axes: Axes, picture: Picture) -> None:
    """Draw the reference: a solid line, its standard uncertainty hatched, its expanded one outlined."""
    from matplotlib.patches import Rectangle

    if picture.reference is None:
        return
    place, spread = picture.scale.inches, picture.standard_uncertainty
    for times, hatch in ((2.0, None), (1.0, "////")) if spread else ():
        a, b = (_clamp(place(picture.reference + sign * times * float(spread or 0))) for sign in (-1, 1))
        box = (a, FLOOR - 0.06), b - a, CEILING - FLOOR + 0.06
        face = PALE if hatch is None else "none"
        axes.add_patch(Rectangle(*box, facecolor=face, edgecolor="#8fb0b6", lw=0.6, hatch=hatch, zorder=0.5))
    if not picture.from_class:
        _line(axes, [place(picture.reference)] * 2, [FLOOR - 0.06, CEILING + 0.44], linewidth=2.0, color=ACCENT)


def _centre(axes: Axes, picture: Picture) -> None:
    """Draw the class's robust centre as a dashed line, with the words of both lines above the frame."""
    place = picture.scale.inches
    if picture.centre is not None:
        _line(axes, [place(picture.centre)] * 2, [FLOOR - 0.06, CEILING + 0.22], linestyle=(0, (4, 2)), linewidth=1.5)
    for value, text, y, side in labels_of(picture):
        _text(axes, place(value) + 0.07 * side, y, text, ha="left" if side > 0 else "right", zorder=4)


def _clamp(x: float) -> float:
    return min(max(x, LEFT), RIGHT)


def _dots(axes: Axes, picture: Picture) -> None:
    """Draw the dots: full where runs agree, rings where they do not."""
    inside = [dot for dot in picture.dots if picture.scale.holds(dot.value)]
    places = [picture.scale.inches(dot.value) for dot in inside]
    size, rise, levels = fitting(places)
    heights = [FLOOR + size / 2 + level * rise for level in levels]
    for concordant, fill in ((True, INK), (False, PAPER)):
        chosen = [i for i, dot in enumerate(inside) if dot.concordant is concordant]
        xs, ys = [places[i] for i in chosen], [heights[i] for i in chosen]
        edge, width = (PAPER, 0.5) if concordant else (INK, 1.3)
        style: dict[str, Any] = {"color": fill, "markeredgecolor": edge, "markeredgewidth": width, "zorder": 3}
        axes.plot(xs, ys, "o", markersize=72 * size * 0.92, **style)
    if rise < size:
        highest = max(range(len(places)), key=lambda i: levels[i])
        _text(axes, places[highest] + size, heights[highest], f"{levels[highest] + 1} at one place", fontsize=8.5)


def _beyond(axes: Axes, picture: Picture) -> None:
    """Show how many lie outside the frame, with an arrow at the edge."""
    below = sum(dot.value < picture.scale.low for dot in picture.dots)
    above = sum(dot.value > picture.scale.high for dot in picture.dots)
    for count, edge, way in ((below, LEFT, -1), (above, RIGHT, 1)):
        if count:
            _line(axes, [edge - way * 0.34, edge], [CEILING - 0.28] * 2, linewidth=1.4)
            axes.plot([edge], [CEILING - 0.28], "<" if way < 0 else ">", markersize=8, color=INK, clip_on=False)
            side = "left" if way < 0 else "right"
            _text(axes, edge, CEILING - 0.1, f"{count} further out", ha=side, fontsize=8.5)


def _axis(axes: Axes, picture: Picture) -> None:
    """Draw the lower axis, in the unit of the result."""
    y = RULER[0] - 0.06 if picture.bands else FLOOR - 0.06
    _line(axes, [LEFT, RIGHT], [y, y])
    marks, decimals = ticks(picture.scale.low, picture.scale.high)
    for value in marks:
        x = picture.scale.inches(value)
        _line(axes, [x, x], [y, y - 0.06])
        _text(axes, x, y - 0.16, numbers.fixed(value, decimals), ha="center", fontsize=8.5)
    _text(axes, (LEFT + RIGHT) / 2, y - 0.38, picture.scale.label, ha="center")
    _key(axes, picture)


def _key(axes: Axes, picture: Picture) -> None:
    """Write what the shapes mean, under the axis."""
    y = 0.2
    axes.plot([LEFT + 0.06], [y], "o", markersize=6.5, color=INK)
    _text(axes, LEFT + 0.18, y, "a student with concordant runs", fontsize=8.5, color=SOFT)
    axes.plot([LEFT + 2.46], [y], "o", markersize=6.5, color=PAPER, markeredgecolor=INK, markeredgewidth=1.3)
    _text(axes, LEFT + 2.58, y, "a student without", fontsize=8.5, color=SOFT)
    if picture.standard_uncertainty:
        text = "shaded: ± twice its standard uncertainty; hatched: ± once"
        _text(axes, RIGHT, y, text, ha="right", fontsize=8.5, color=SOFT)


def _titre_axis(axes: Axes, picture: Picture) -> None:
    """Draw the upper axis, in cm³ of titre, where titre and result are one scale."""
    y = CEILING + 0.56
    if picture.scale.titres is None:
        return
    spots = titre_spots(picture.scale)
    _line(axes, [LEFT, RIGHT], [y, y], linewidth=0.8, color=SOFT)
    for value, label in spots:
        x = picture.scale.inches(value)
        _line(axes, [x, x], [y, y + 0.05], linewidth=0.8, color=SOFT)
        _text(axes, x, y + 0.14, label, ha="center", fontsize=8.5, color=SOFT)
    _text(axes, RIGHT, y + 0.34, "mean titre, cm³", ha="right", fontsize=8.5, color=SOFT)


def _heading(axes: Axes, picture: Picture) -> None:
    title = picture.title if len(picture.title) <= 70 else picture.title[:69] + "…"
    _text(axes, LEFT, HEIGHT - 0.2, title, fontsize=11.5, weight="bold")
    _text(axes, LEFT, HEIGHT - 0.41, numbers.count(len(picture.dots), "result"), fontsize=9, color=SOFT)
