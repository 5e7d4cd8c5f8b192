"""Words that sentences of several parts are made of.

A sentence is written once, for the student's sheet and for the teacher's report. Where the two differ (your mean, the
student's mean), `either` holds both forms until the sentence is handed to one of them.

>>> told(f"{either('You', 'The student')} wrote 0.0506.")
'You wrote 0.0506.'
>>> reported(f"{either('You', 'The student')} wrote 0.0506.")
'The student wrote 0.0506.'
"""

import re
import unicodedata
from collections.abc import Sequence

# Control characters: no cell of a class sheet holds them, so that nothing a student typed is taken for a form.
_FORMS = re.compile("\x02([^\x03]*)\x03([^\x04]*)\x04")
_UNIT = re.compile("[a-z]+[²³]")
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def either(student: str, teacher: str) -> str:
    """Return words that read differently on the student's sheet and in what the teacher reads."""
    return f"\x02{student}\x03{teacher}\x04"


def readable(name: str) -> str:
    r"""Return the name of a file as text, also where it is not UTF-8, or the system knows ASCII alone.

    >>> readable("M\udcfcller"), readable("M\udcc3\udcbcller")
    ('M\\xfcller', 'Müller')
    """
    return name.encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace")


def told(text: str) -> str:
    """Return a sentence as the student reads it."""
    return _FORMS.sub(r"\1", text)


def reported(text: str) -> str:
    """Return a sentence as the teacher reads it."""
    return _FORMS.sub(r"\2", text)


def begun(text: str) -> str:
    """Return words as they begin a sentence, in either form; a unit keeps its small letters."""
    forms = _FORMS.match(text)
    if forms is None:
        return text if _UNIT.match(text) else text[:1].upper() + text[1:]
    return either(*(begun(form) for form in forms.groups())) + text[forms.end() :]


def shortened(text: str, longest: int) -> str:
    """Return a text of so many characters at most."""
    return text if len(text) <= longest else text[: longest - 1].rstrip() + "…"


YOUR = either("your", "the student’s")
YOU_WROTE = either("you wrote", "the student wrote")
NOT_AGAINST_YOU = either("that is not held against you", "that is not held against the student")


def run_called(label: str) -> str:
    """Return what a run is called in a sentence: "run 2", "rough", or by the titration that it is of, "total 1"."""
    return f"run {label}" if label.isdecimal() else label.replace("Rough", "rough")


def of_run(label: str | None) -> str:
    """Return of which run something is: " of run 2", " of the rough"; empty where it is of none."""
    name = run_called(label or "")
    return f" of the {name}" if "rough" in name else f" of run {label}" if label else ""


def listed(words: Sequence[str], link: str = "and") -> str:
    """Return words as a list in a sentence: "1, 2 and 3"."""
    return f" {link} ".join(part for part in (", ".join(words[:-1]), *words[-1:]) if part)


def group_name(grouping: str, name: object) -> str:
    """Return a group as a teacher calls it: "Bench 3", also where the sheet says "bench 3" itself."""
    text = str(name)
    return text if text.lower().startswith(grouping.lower()) else f"{grouping} {text}"


def numbered(number: int) -> str:
    """Return a small number in words: "two"."""
    return _NUMBERS[number] if number < len(_NUMBERS) else str(number)


def counted(number: int | str, one: str, many: str = "") -> str:
    """Return a number of things: "1 run", "two runs"."""
    return f"{number} {one if str(number) in ('1', 'one') else many or f'{one}s'}"


_PLAIN = {"→": "->", "⇌": "<->", "≠": "!=", "≤": "<=", "≥": ">=", "≈": "~", "×": "x", "÷": "/", "−": "-", "±": "+/-"}
_PLAIN |= {"’": "'", "‘": "'", "⁻": "-"}
_RAISED = re.compile("(?<![⁰¹²³⁴-⁹⁺⁻])[⁰¹²³⁴-⁹⁺⁻]")


def plainly(error: UnicodeError) -> tuple[str, int]:
    """Write what an encoding has no sign for in those it has, CaCO3 for CaCO₃: an error handler of `codecs`."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    before, signs = error.object[: error.start][-1:], error.object[error.start : error.end]
    # 10⁻⁵ is 10^-5, as practical files have it; but in Ca²⁺ the 2 may have been written as it is.
    raised = signs if _RAISED.match(before) else _RAISED.sub(r"^\g<0>", signs)
    known = unicodedata.normalize("NFKD", "".join(_PLAIN.get(sign, sign) for sign in raised))
    plain = "".join(sign for sign in known if not unicodedata.combining(sign))
    return plain.encode(error.encoding, "replace").decode(error.encoding), error.end
