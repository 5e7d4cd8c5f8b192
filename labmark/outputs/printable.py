"""Makes text safe to print: what no font can draw is replaced, and said.

Typst draws an empty box for a character that no font has, and refuses to write an accessible PDF with one in it. So
every text of a sheet passes through here. Whether an unusual text can be printed is not looked up in a table but
tried: a tiny document with nothing but that text is compiled.

Fonts: Libertinus Serif, which Typst carries, and DejaVu Sans, which matplotlib carries, for what the former lacks
(Arabic, Hebrew, many symbols); for other scripts those of the packages in `MORE_FONTS`, where they are installed.
System fonts are never used: the same class must give the same bytes wherever the same packages are.
"""

import json
import re
import unicodedata
from collections.abc import Mapping
from functools import cache, lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from labmark.words import shortened

REPLACEMENT = "�"
"""Stands for a character that cannot be printed."""
USUAL = re.compile(
    "[ -~\u00a0-\u00ac\u00ae-\u017f\u0391-\u03a1\u03a3-\u03c9\u0410-\u044f₀-₉⁰⁴-⁹⁻–—‘’“”…•′″→←−≈≠≤≥±×÷√�\u200b]*"
)
"""Text of these characters is known to print (a test tries every one): no need to try it again."""
WITH_UNIT = re.compile(
    r"(?<=[\d⁰-⁹¹²³]) (?=(?:%|[cd]m³|mL|mol|mg|[gLM])(?!\w))| (?=× 10[⁻⁰-⁹¹²³])|(?<=×) (?=10[⁻⁰-⁹¹²³])"
)
"""The spaces at which a number is not parted from its unit or its power of ten."""
MORE_FONTS = ("manimgx_fonts", "manimgx_fonts_cjk")
"""Packages of Noto fonts, under the SIL Open Font License: labmark[scripts]."""
LONGEST_NAME = 80
"""Characters of a student's name."""
LONGEST_WORD = 24
"""Characters after which a word without a space may be broken, so that it cannot run over the edge."""
PROBE = b"""
#set document(title: sys.inputs.text, date: none)
#set text(font: json(bytes(sys.inputs.fonts)), fallback: false, lang: "en")
= #sys.inputs.text
#text(weight: 400, sys.inputs.text) #text(weight: 600, sys.inputs.text)
"""


@lru_cache(maxsize=2048)  # nine of ten texts stand on other sheets too
def printable(text: str) -> str:
    """Return `text` in one line, unprintable characters replaced by `REPLACEMENT`, long words made breakable."""
    words = _one_line(text)
    if not can_print(words):
        words = "".join(one if can_print(one) else REPLACEMENT for one in words)
    if not can_print(words):
        # Each character prints alone and not beside the others: a script whose letters join in ways the fonts lack.
        words = "".join(one if USUAL.fullmatch(one) else REPLACEMENT for one in words)
    return WITH_UNIT.sub("\u00a0", breakable(words))


def all_printable(data: Any) -> Any:
    """Return `data` with every text in it printable."""
    if isinstance(data, str):
        return printable(data)
    if isinstance(data, Mapping):
        return {key: all_printable(value) for key, value in data.items()}
    return [all_printable(value) for value in data] if isinstance(data, list | tuple) else data


def printable_name(text: str, number: int) -> str:
    """Return a student's name as it is printed: "Student 7" where it is blank or holds what cannot be printed."""
    name = _one_line(text)
    blank = not any(unicodedata.category(one)[0] in "LNPS" for one in name)
    if blank or REPLACEMENT in name or not can_print(name):
        return f"Student {number}"
    return breakable(shortened(name, LONGEST_NAME))


def printed_instead(text: str, number: int) -> str:
    """Return what is printed instead of a student's name that cannot be: "Student 7"; empty where it can."""
    name = f"Student {number}"
    return name if text != name == printable_name(text, number) else ""


def can_print(text: str) -> bool:
    """Return whether the fonts at hand have every character of `text`, in the ways that it joins."""
    return bool(USUAL.fullmatch(text)) or _prints(text)


def breakable(text: str) -> str:
    """Return `text` with places (of no width) where a word longer than `LONGEST_WORD` may be broken."""
    return re.sub(rf"([^\s\u200b-]{{{LONGEST_WORD}}})(?=[^\s-]{{4}})", "\\1\u200b", text)


@cache
def fonts() -> Any:
    """Return the fonts of the sheets, loaded once.

    Raises FileNotFoundError where matplotlib does not carry DejaVu Sans.
    """
    import typst

    folders = [folder / "mpl-data" / "fonts" / "ttf" for folder in _package_folders("matplotlib")]
    folder = next((folder for folder in folders if (folder / "DejaVuSans.ttf").is_file()), None)
    if folder is None:
        raise FileNotFoundError(f"no DejaVuSans.ttf in {folders}; install matplotlib again")
    more = [str(folder) for package in MORE_FONTS for folder in _package_folders(package)]
    return typst.Fonts(include_system_fonts=False, font_paths=[str(folder), *more])


@cache
def families() -> tuple[str, ...]:
    """Return the names of the fonts in which text is set, in order; others that a package brings are never used."""
    return ("Libertinus Serif", "DejaVu Sans", *sorted(name for name in fonts().families() if name.startswith("Noto ")))


def _package_folders(package: str) -> list[Path]:
    """Return where a package is, if it is there; it is not imported: matplotlib takes longer than a sheet."""
    spec = find_spec(package)
    return [Path(place) for place in (spec and spec.submodule_search_locations) or ()]


@cache
def _prober() -> Any:
    import typst

    return typst.Compiler(font_paths=fonts())


@lru_cache(maxsize=4096)
def _prints(text: str) -> bool:
    import typst

    try:
        inputs = {"text": f"x{text}", "fonts": json.dumps(families())}
        _prober().compile(input=PROBE, format="pdf", pdf_standards=["ua-1"], sys_inputs=inputs)
    except typst.TypstError:
        return False
    return True


def _one_line(text: str) -> str:
    """Return `text` composed (NFC), in one line, without characters that hide or turn the direction of writing."""
    if USUAL.fullmatch(text) and "\u200b" not in text:
        return " ".join(text.split())
    kept = []
    for one in unicodedata.normalize("NFC", text):
        category = unicodedata.category(one)
        if category in ("Cs", "Co", "Cn"):
            kept.append(REPLACEMENT)
        elif category in ("Cc", "Zl", "Zp"):
            kept.append(" ")
        elif category != "Cf" or one in "\u200c\u200d":
            # The two joiners belong to the spelling of some languages.
            kept.append(one)
    return " ".join("".join(kept).split())
