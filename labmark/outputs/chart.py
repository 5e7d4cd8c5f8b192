"""The class distribution chart: one dot a student, against the reference and the marking bands.

The only user of matplotlib. The chart may be shown to the class, so it bears no names. What means something is told
by shape and by words, never by colour alone: a full dot rests on concordant runs, a ring does not; the reference is a
solid line with a shaded band, the class centre a dashed one; the marking bands are a ruler of greys under the dots,
each with its mark written in it. Where the reference is in doubt, that is written on it and what rests on it hatched.
It is drawn for a projector: 1920 × 1080 dots, letters to be read at eight metres, words that pupils understand.

Everything is drawn in inches on one figure, with its own ticks: that is fast, and the same everywhere. Letters in the
SVG stay letters (`svg.fonttype` none): the file is a fraction of the size, can be searched, and falls back to the
reader's own sans serif where DejaVu Sans is missing; nothing in the layout depends on a width of text.
"""

from __future__ import annotations

import io
import logging
import os
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cache
from itertools import product
from types import ModuleType
from typing import TYPE_CHECKING, Any, NamedTuple
from xml.sax.saxutils import escape

from PIL import Image, ImageColor

from labmark.outputs import layout, numbers
from labmark.outputs.each import results_of
from labmark.outputs.forms import forms_of
from labmark.outputs.layout import CEILING, FLOOR, HEIGHT, LEFT, RIGHT, RULER, TICKS, WIDTH, Picture, Tree
from labmark.outputs.names import safe_name, unlike
from labmark.problems import InputError, Problem
from labmark.words import counted, shortened

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK, SOFT, PAPER = "#1d2a30", "#56646b", "#ffffff"
ACCENT, PALE = "#0b5563", "#e9f1f2"
"""The reference: told from the class's line by being solid and labelled, not by its colour."""
LARGE, SMALL = 17.0, 15.0
"""Sizes of letters [points]."""
LETTER = 0.135
"""About the width of a letter of the large size [in]; whether a label fits is reckoned with it."""
DARK = {
    "#1d2a30": "#e7ebea", "#56646b": "#a9b5b9", "#ffffff": "#1b2327", "#0b5563": "#7cc7d4", "#e9f1f2": "#21363c",
    "#8fb0b6": "#5f8790", "#c9d3d6": "#43545c", "#dbe2e4": "#36454c", "#ebeff0": "#2c393f", "#f6f8f8": "#243036",
}  # fmt: skip
"""Colour -> the one that stands for it on a dark page."""
HATCH = "//"
"""Stands for what is in doubt."""
MARK_GREYS = ("#c9d3d6", "#dbe2e4", "#ebeff0", "#f6f8f8")
"""Best band first; even the darkest lets the ink stand out 9 to 1."""
DOTS = 200
"""Of the PNG, an inch."""
SHADES = 12
"""Between a letter and its ground: edges are smooth, and the palette of a PNG has room for no more than 256."""


class Chart(NamedTuple):
    """A chart in both formats, with the words for those who cannot see it."""

    svg: bytes
    png: bytes
    alt: str
    panels: int = 1
    """One a result, under each other."""


def distribution(tree: Tree) -> Chart:
    """Return the distribution chart of a class, a panel for each result (the same tree gives the same bytes)."""
    mpl = _matplotlib()
    settings: dict[Any, Any] = {key: value for key, value in mpl.rcParamsDefault.items() if key != "backend"}
    settings |= {"svg.hashsalt": "labmark distribution", "svg.fonttype": "none"}
    settings |= {"font.family": ["DejaVu Sans"], "hatch.linewidth": 0.8, "text.parse_math": False}
    pictures, forms = {name: layout.picture_of(one) for name, one in results_of(tree).items()}, forms_of(tree)
    said = [f"{name}: {layout.words(one)}" if name else layout.words(one) for name, one in pictures.items()]
    with mpl.rc_context(settings):
        figure = draw([replace(each, title=forms(each.title)) for each in pictures.values()])
        for each in (text for axes in figure.axes for text in axes.texts):
            each.set_text(forms(each.get_text()))
        alt = forms(" ".join(said))
        return Chart(_described(_svg(figure), alt), _png(figure), alt, len(said))


def each_distribution(tree: Tree) -> Iterator[tuple[str, Chart]]:
    """Yield (name of the file, chart) of a class of several results, one a result, to be shown one by one."""
    seen, taken = results_of(tree), set[str]()
    for name, one in seen.items() if len(seen) > 1 else ():
        alone = {key: value for key, value in one["class"].items() if key != "by_result"}
        yield unlike(f"distribution {safe_name(name)}", taken), distribution({**one, "class": alone})


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


def _described(svg: bytes, alt: str) -> bytes:
    """Return a picture with a title and a description for those who cannot see it."""
    title, _, more = alt.partition(": ")
    head = f"<title>{escape(title)}</title><desc>{escape(more)}</desc>".encode()
    place = svg.index(b">", svg.index(b"<svg ")) + 1
    return svg[: place - 1] + b' role="img">' + head + svg[place:]


def with_dark_variant(svg: bytes) -> bytes:
    """Return a picture that takes other colours on a dark page."""
    rules = "".join(
        f'[style*="{what}: {light}"]{{{what}:{dark}!important}}'
        for light, dark in DARK.items()
        for what in ("fill", "stroke")
    )
    return svg.replace(b"<title>", f"<style>@media (prefers-color-scheme: dark){{{rules}}}</style><title>".encode(), 1)


def _svg(figure: Figure) -> bytes:
    """Return the figure without date or maker: the same picture has the same bytes."""
    buffer = io.BytesIO()
    figure.savefig(buffer, format="svg", metadata={"Date": None})
    return buffer.getvalue()


def _png(figure: Figure) -> bytes:
    """Return the figure in the few colours that it has: packed in a quarter of the time, to a third of the size."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    figure.set_dpi(DOTS)
    canvas: Any = FigureCanvasAgg(figure)
    canvas.draw()
    # From where they were drawn, not from a file of them: that would be 8 MB more.
    dots = Image.frombytes("RGB", canvas.get_width_height(), canvas.buffer_rgba(), "raw", "RGBX")
    buffer = io.BytesIO()
    dots.quantize(palette=_palette(), dither=Image.Dither.NONE).save(buffer, "png", dpi=(DOTS, DOTS))
    return buffer.getvalue()


@cache
def _palette() -> Image.Image:
    """Return a picture whose palette has every colour of the chart, and the shades between letters and grounds."""

    def between(one: str, other: str, share: float) -> tuple[int, ...]:
        return tuple(round(a + (b - a) * share) for a, b in zip(rgb(one), rgb(other), strict=True))

    rgb = ImageColor.getrgb
    grounds, letters = (PAPER, PALE, *MARK_GREYS), (INK, SOFT, ACCENT)
    shades = (between(a, b, n / SHADES) for a, b, n in product(grounds, letters, range(SHADES)))
    holder = Image.new("P", (1, 1))
    holder.putpalette([part for colour in dict.fromkeys([*map(rgb, DARK), *shades]) for part in colour])
    return holder


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
    _text(axes, LEFT, HEIGHT - 0.25, shortened(picture.title, 44), fontsize=20, weight="bold")
    _text(axes, LEFT, HEIGHT - 0.67, counted(len(picture.dots), "result"), color=SOFT)
    if not picture.dots and picture.reference is None:
        _text(axes, WIDTH / 2, HEIGHT / 2, "No student has a result yet.", ha="center", fontsize=LARGE)
        return
    _bands(axes, picture)
    _reference(axes, picture)
    _centre(axes, picture)
    _dots(axes, picture)
    _beyond(axes, picture)
    _axis(axes, picture)
    _titre_axis(axes, picture)


def _text(axes: Axes, x: float, y: float, text: str, **more: Any) -> None:
    style: dict[str, Any] = {"fontsize": LARGE, "color": INK, "va": "center", "parse_math": False} | more
    axes.text(x, y, text, **style)


def _line(axes: Axes, xs: Sequence[float], ys: Sequence[float], **more: Any) -> None:
    style: dict[str, Any] = {"color": INK, "linewidth": 1.5, "solid_capstyle": "butt"} | more
    axes.plot(xs, ys, **style)


def _box(axes: Axes, xs: tuple[float, float], ys: tuple[float, float], **more: Any) -> None:
    from matplotlib.patches import Rectangle

    style: dict[str, Any] = {"lw": 0} | more
    axes.add_patch(Rectangle((xs[0], ys[0]), xs[1] - xs[0], ys[1] - ys[0], **style))


def _bands(axes: Axes, picture: Picture) -> None:
    """Draw the ruler of marks: the widest band first, so that better ones lie upon it."""
    if not picture.bands:
        return
    bottom, top = RULER
    place = picture.inches
    _box(axes, (LEFT, RIGHT), RULER, facecolor=MARK_GREYS[-1])
    for rank, (_, low, high) in reversed(list(enumerate(picture.bands))):
        grey = MARK_GREYS[min(rank, len(MARK_GREYS) - 2)]
        _box(axes, (place(low), place(high)), RULER, facecolor=grey)
        for end in (low, high):
            _line(axes, [place(end)] * 2, [bottom, top], linewidth=1.3)
            _line(axes, [place(end)] * 2, [top, CEILING], linewidth=0.9, color=SOFT, linestyle=(0, (1, 3)))
    if picture.doubtful:
        _box(axes, (LEFT, RIGHT), RULER, facecolor="none", edgecolor=SOFT, hatch=HATCH)
    _band_labels(axes, picture)
    _line(axes, [LEFT, RIGHT, RIGHT, LEFT, LEFT], [bottom, bottom, top, top, bottom], linewidth=1.3)


def _band_labels(axes: Axes, picture: Picture) -> None:
    """Write the mark into each part of the ruler that has room for it."""
    inner: tuple[float, float] | None = None
    for mark, low, high in (*picture.bands, (0.0, picture.axis.low, picture.axis.high)):
        for start, end in [(low, high)] if inner is None else [(low, inner[0]), (inner[1], high)]:
            a, b = picture.inches(start), picture.inches(end)
            text = counted(int(mark), "mark") if float(mark).is_integer() else f"{numbers.mark(mark)} marks"
            if b - a >= 0.24:
                label = text if b - a >= 1.0 else numbers.mark(mark)
                box = {"boxstyle": "square,pad=0.1", "facecolor": PAPER, "linewidth": 0} if picture.doubtful else None
                _text(axes, (a + b) / 2, sum(RULER) / 2 - 0.01, label, ha="center", fontsize=SMALL, bbox=box)
        inner = (low, high)


def _reference(axes: Axes, picture: Picture) -> None:
    """Draw the reference: a solid line, and shaded where the true value very likely lies; hatched while in doubt."""
    if picture.reference is None:
        return
    place, spread = picture.inches, picture.standard_uncertainty
    if spread:
        a, b = (place(picture.reference + sign * 2 * spread) for sign in (-1, 1))
        look = {"lw": 0.8, "hatch": HATCH if picture.doubtful else None, "zorder": 0.5}
        _box(axes, (a, b), (FLOOR - 0.06, CEILING), facecolor=PALE, edgecolor="#8fb0b6", **look)
    if not picture.from_class:
        _line(axes, [place(picture.reference)] * 2, [FLOOR - 0.06, CEILING + 0.68], linewidth=3.0, color=ACCENT)


def _centre(axes: Axes, picture: Picture) -> None:
    """Draw the class's robust centre as a dashed line, with the words of both lines above the frame."""
    place = picture.inches
    if picture.centre is not None:
        _line(axes, [place(picture.centre)] * 2, [FLOOR - 0.06, CEILING + 0.36], linestyle=(0, (4, 2)), linewidth=2.2)
    for value, text, y, side in layout.labels_of(picture):
        x, room = place(value) + 0.09 * side, LETTER * len(text)
        # A long label may reach over its line, but not off the picture.
        x = min(x, WIDTH - 0.1 - room) if side > 0 else max(x, 0.1 + room)
        # On paper, so that the line of the other is not drawn through it.
        box = {"boxstyle": "square,pad=0.05", "facecolor": PAPER, "linewidth": 0}
        _text(axes, x, y, text, ha="left" if side > 0 else "right", zorder=4, bbox=box)


def _dots(axes: Axes, picture: Picture) -> None:
    """Draw the dots: full where runs agree, rings where they do not."""
    inside = [dot for dot in picture.dots if picture.axis.holds(dot.value)]
    places = [picture.inches(dot.value) for dot in inside]
    size, rise, levels = layout.fitting(places)
    heights = [FLOOR + size / 2 + level * rise for level in levels]
    for concordant, fill in ((True, INK), (False, PAPER)):
        chosen = [i for i, dot in enumerate(inside) if dot.concordant is concordant]
        xs, ys = [places[i] for i in chosen], [heights[i] for i in chosen]
        edge, width = (PAPER, 0.7) if concordant else (INK, 1.9)
        style: dict[str, Any] = {"color": fill, "markeredgecolor": edge, "markeredgewidth": width, "zorder": 3}
        axes.plot(xs, ys, "o", markersize=72 * size * 0.92, **style)
    if rise < size:
        highest = max(range(len(places)), key=lambda i: levels[i])
        _text(axes, places[highest] + size, heights[highest], f"{levels[highest] + 1} at one place", fontsize=SMALL)


def _beyond(axes: Axes, picture: Picture) -> None:
    """Show how many lie outside the frame, with an arrow at the edge."""
    below = sum(dot.value < picture.axis.low for dot in picture.dots)
    above = sum(dot.value > picture.axis.high for dot in picture.dots)
    for count, edge, way in ((below, LEFT, -1), (above, RIGHT, 1)):
        if count:
            _line(axes, [edge - way * 0.34, edge], [CEILING - 0.38] * 2, linewidth=2.0)
            axes.plot([edge], [CEILING - 0.38], "<" if way < 0 else ">", markersize=11, color=INK, clip_on=False)
            side = "left" if way < 0 else "right"
            _text(axes, edge, CEILING - 0.14, f"{count} further out", ha=side, fontsize=SMALL)


def _axis(axes: Axes, picture: Picture) -> None:
    """Draw the lower axis, in the unit of the result."""
    y = RULER[0] - 0.06 if picture.bands else FLOOR - 0.06
    _line(axes, [LEFT, RIGHT], [y, y])
    for value, label in picture.axis.numbers(TICKS):
        x = picture.inches(value)
        _line(axes, [x, x], [y, y - 0.08])
        _text(axes, x, y - 0.22, label, ha="center")
    _text(axes, (LEFT + RIGHT) / 2, y - 0.53, picture.label, ha="center")
    _key(axes, picture)


def _key(axes: Axes, picture: Picture) -> None:
    """Write what the shapes mean, under the axis."""
    shaded = "shaded: where the true value very likely lies"
    if picture.from_class:
        shaded = "shaded: the middle of the class with its uncertainty"
    shaded = shaded if picture.standard_uncertainty else ""
    axes.plot([LEFT + 0.08], [0.47], "o", markersize=10, color=INK)
    _text(axes, LEFT + 0.26, 0.47, "a student whose runs agree", fontsize=SMALL, color=SOFT)
    axes.plot([LEFT + 3.9], [0.47], "o", markersize=10, color=PAPER, markeredgecolor=INK, markeredgewidth=1.9)
    _text(axes, LEFT + 4.08, 0.47, "a student whose runs do not agree", fontsize=SMALL, color=SOFT)
    text = "hatched: being checked, and may change" if picture.doubtful else shaded
    _text(axes, LEFT, 0.17, text, fontsize=SMALL, color=SOFT)


def _titre_axis(axes: Axes, picture: Picture) -> None:
    """Draw the upper axis, in cm³ of titre, where titre and result are one scale."""
    y = CEILING + 0.80
    if picture.titres is None:
        return
    _line(axes, [LEFT, RIGHT], [y, y], linewidth=1.2, color=SOFT)
    for value, label in layout.titre_spots(picture):
        x = picture.inches(value)
        _line(axes, [x, x], [y, y + 0.07], linewidth=1.2, color=SOFT)
        _text(axes, x, y + 0.21, label, ha="center", color=SOFT)
    _text(axes, RIGHT, y + 0.53, "mean titre, cm³", ha="right", color=SOFT)
