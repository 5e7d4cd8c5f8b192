"""Another language: English sentences are put into it where they are shown.

A catalogue (`labmark/languages/de.po`) holds messages: sentences and parts of them, with holes for what differs.

    msgid "{run} {hedge} went past the endpoint: {away}"
    msgstr "{run} ging {hedge} über den Endpunkt hinaus: {away}"

A sentence is put into the language by the message that says most of it, else by its parts on both sides of a colon, a
comma or a bracket. What fills a hole is put into the language in the same way, so that the sentence stays English where
any part of it has no message. Numbers, formulas, quotations and what somebody typed stay as they are: they are taken
out first, so that sheets that say the same of other numbers ask only once.
"""

import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cache, cached_property, partial
from typing import NamedTuple

from labmark.dataclass import dataclass, field
from labmark.places import language_file

HOLE = re.compile(r"\{(\w+)\}")
SENTENCE = re.compile(r"(?<=[.!?…]) (?=\S)(?![^“”]*”)")  # not within a quotation: “0. 00”
_LETTER = "[^\\W\\d_⁰¹²³⁴-⁹₀-₉]"
WORD = re.compile(f"{_LETTER}{{2,}}")
TYPED = "typed"
"""How the names of holes begin that hold what somebody typed."""
FIXED = "_"
"""The same of holes for a number or a formula of the message itself, which hold one and nothing else."""
PRACTICALS = "practicals"
"""What the catalogue says of a message that is a text of a practical that ships."""
QUOTED = "“{quoted}”"
_QUOTATION = re.compile(r"(?<!\w)'[^'\n]*'(?!\w)")
_QUOTED_HOLE = re.compile(r"“(\{\w+\})”")
"""A quotation is taken out with its marks, so in a message it is a hole without them."""
_BEGINS = re.compile(r"\w+")
_FIRST, _FORMS, _MOST = 0xE000, 4, 1500
"""Characters that no text has stand for what was taken out: four for each, of which the plural form chooses one."""
_TAKEN = re.compile("[\ue000-\uf8ff]")
_ATOM = re.compile(
    rf"“[^”]*”|{_QUOTATION.pattern}"  # a quotation
    r"|\b[0-9a-f]{32,}\b|(?<!\w)[\w.-]+\.(?:xlsx|ods|csv|tsv|txt|toml|json|html)\b"  # a digest, a file
    r"|(?<![\w’])(?:\w+!)?[A-Z]{1,3}\d+(?::[A-Z]{1,3}\d+)?(?!\w)"  # the address of a cell
    r"|(?<![\w’])[\[(]?(?:[A-Z][a-z]?[₀-₉⁺⁻⁰¹²³⁴-⁹·\d()\[\]]*){2,}[⁺⁻⁰¹²³⁴-⁹]*(?![A-Za-z])"  # a formula: NaOH
    r"|\b[A-Z][a-z]?[₀-₉⁺⁻²³⁴-⁹]+"  # an ion, an element with its number
    # a number, its thousands apart and with a power of ten where they are
    r"|(?<![\w.,])[−+±-]?\d+(?:[\u00a0\u2009\u202f ]\d{3}(?!\d))*(?:[.,]\d+)*"
    r"(?: × 10[⁻⁰¹²³⁴-⁹]+)?(?:E[+-]?\d+)?(?![\w²³]|[.,]\d)"
)
_UNITS = "[cd]?m|mg|g|kg|mol|mmol|µL|mL|L|s|min|h|mV|V|kPa|Pa|°C|pH|pK|pKa|labmark|sha256|UTF|[b-z]|[A-ZΔσρ]"
NEUTRAL = re.compile(f"(?:(?!{_LETTER})[^\ue000-\uf8ff]|[\ue000-\uf8ff]|(?<!{_LETTER})(?:{_UNITS})(?!{_LETTER}))*")
"""What is the same in every language: signs, units, single letters."""
_BEFORE, _AFTER = "(≠←→•±×●○◂ ", ".:;,!?…·▸ "
"""What a text may begin or end with around a message."""
_JOINTS = ("; ", ": ", " · ", " (", "): ", ") ", " – ", ", ", " /", " × ", " ÷ ", " − ", " = ")
"""Where a sentence comes apart, what parts it most first."""
_PARTED = re.compile(r"(?<! )[;:] ")
_LITTLE = 4
"""Letters up to which a message with holes says little."""
_TRIES = 400
"""Ways in which a message may be tried on a text: more of them would be a text that it was not made for."""
Way = Callable[[str], str | None]
"""From a text to what it is in the language; None where it has none."""
Message = str | tuple[str, ...]
"""A message, or that of one and that of several."""


class Typed:
    """Texts that somebody typed, as they may stand within others; `said` is what some of them are in the language."""

    def __init__(self, texts: Iterable[str], said: Mapping[str, str] | None = None) -> None:
        self.texts = frozenset(text for text in texts if WORD.search(text))
        self._said = said or {}
        self._by_word: dict[str, list[str]] = {}
        for text in sorted(self.texts, key=lambda each: (-len(each), each)):
            begins = _BEGINS.match(text)
            if begins:
                self._by_word.setdefault(begins[0], []).append(text)

    def __call__(self, text: str) -> str:
        """Return what stands for one of them."""
        return self._said.get(text, text)

    def whole(self, text: str) -> str | None:
        """Return what stands for a text that is one of them, a full stop behind it or not; None where it is none."""
        bare = text if text in self.texts else text.removesuffix(".")
        return self(bare) + text[len(bare) :] if bare in self.texts else None

    def spans(self, text: str) -> Iterator[tuple[int, int]]:
        """Yield where a text holds one of them: the longest, from the left."""
        reached = 0
        for word in _BEGINS.finditer(text):
            begin = word.start()
            for each in self._by_word.get(word[0], ()) if begin >= reached else ():
                after = text[begin + len(each) : begin + len(each) + 1]
                if text.startswith(each, begin) and not (after.isalnum() and each[-1].isalnum()):
                    reached = begin + len(each)
                    yield begin, reached
                    break


class Pattern(NamedTuple):
    """A message with its holes, in English and in the language."""

    literals: tuple[str, ...]
    """English between the holes, one more than there are."""
    names: tuple[str, ...]
    said: tuple[str, ...]
    """In the language, by plural form; one where it makes no difference."""

    @property
    def weight(self) -> int:
        """How much of the message is fixed: what says most wins."""
        return sum(map(len, self.literals))

    @property
    def letters(self) -> int:
        """How many letters of it are fixed."""
        return sum(len(word) for part in self.literals for word in WORD.findall(part))


Patterns = dict[str, list[tuple[frozenset[str], int, Pattern]]]
"""Word -> patterns with that word: all their words, their place among those that say most first, the pattern."""


@dataclass()
class Language:
    """A catalogue, ready to be asked."""

    messages: Sequence[tuple[Message, Message]]
    """(English, in the language); of one and of several where the number matters."""
    plural: Callable[[int], int] = lambda number: int(number != 1)
    of_practicals: frozenset[str] = frozenset()
    """What the practicals that ship say, which a teacher who took one of them over did not type."""
    left: dict[str, str] = field(default_factory=dict)
    """What stayed English, for whoever makes the catalogue: without what was taken out -> as it was."""
    _known: dict[str, str | None] = field(default_factory=dict)

    def __call__(self, text: str, typed: Typed | None = None) -> str:
        """Return an English text in this language; what was typed stays, and what there is no message for."""
        whole = typed.whole(text) if typed else None
        if whole is not None or not WORD.search(text):
            return text if whole is None else whole
        return "\n".join(
            " ".join(self._sentence(each, typed) for each in SENTENCE.split(line)) for line in text.split("\n")
        )

    def _sentence(self, text: str, typed: Typed | None) -> str:
        # A name may be a word of the language, as Grace and Will are: then it is read as one.
        for sure in (False, True) if typed is not None else (False,):
            masked, taken = self._masked(text, typed, sure)
            said = self.said(masked) if len(taken) < _MOST else None
            if said is not None:
                return _put_back(said, taken)
        self.left.setdefault(_TAKEN.sub("{}", masked), text)
        return text

    def _masked(self, text: str, typed: Typed | None, sure: bool) -> tuple[str, list[str]]:
        """Return a text without what stays as it is, and what that was; `sure`: but for names that are words too."""
        taken: list[str] = []

        def take(kept: str) -> str:
            quoted = kept[1:-1] if kept[0] == "“" else None
            taken.append(kept if quoted is None else self.labels.get(QUOTED, QUOTED).replace("{quoted}", quoted))
            form = self.plural(int(kept)) if kept.isdecimal() else 1
            return chr(_FIRST + _FORMS * ((len(taken) - 1) % _MOST) + form)

        done, start = "", 0
        quoted = [found.span() for found in _QUOTATION.finditer(text)]
        for begin, end in typed.spans(text) if typed else ():
            # A quotation is taken out whole, whatever was typed in it.
            if any(first < begin and end < last for first, last in quoted):
                continue
            if sure and text[begin:end].casefold() in self.words:
                continue
            kept = typed(text[begin:end]) if typed else ""
            if text[begin - 1 : begin] == "“" and text[end : end + 1] == "”":
                begin, end, kept = begin - 1, end + 1, f"“{kept}”"
            done += _ATOM.sub(lambda each: take(each[0]), text[start:begin]) + take(kept)
            start = end
        return done + _ATOM.sub(lambda each: take(each[0]), text[start:]), taken

    def said(self, text: str) -> str | None:
        """Return a text in the language, whole; None where a part of it has no message."""
        if NEUTRAL.fullmatch(text):
            return text
        # What was taken out is numbered by its order here, so that the same words are asked for once.
        places = _TAKEN.findall(text)
        order = iter(range(len(places)))
        key = _TAKEN.sub(lambda each: chr(_FIRST + _FORMS * next(order) + (ord(each[0]) - _FIRST) % _FORMS), text)
        if key not in self._known:
            self._known[key] = self._found(key)  # of shorter texts, so that it ends
        known = self._known[key]
        return None if known is None else _put_back(known, places)

    def _found(self, text: str) -> str | None:
        cores = _cores(text)
        telling, linking = (partial(self._message, patterns) for patterns in self._patterns)
        ways: tuple[tuple[Way, str], ...] = (
            *((partial(_either_way, self._exact.get), core) for core in cores),
            *((telling, core) for core in cores),
            (partial(_either_way, self._in_parts), cores[-1]),
            (partial(_either_way, self._before_name), cores[-1]),
            *((linking, core) for core in cores),
        )
        for way, core in ways:
            said = way(core)
            if said is not None:
                at = text.index(core)
                return text[:at] + said + "".join(self.labels.get(mark, mark) for mark in text[at + len(core) :])
        return None

    def _message(self, patterns: Patterns, text: str) -> str | None:
        """Return a text by the message that says most of it."""
        fitting = [
            (place, at, pattern, either)
            for at, either in enumerate(_either(text))
            for words in (frozenset(WORD.findall(either)),)
            for word in words
            for asked, place, pattern in patterns.get(word, ())
            if asked <= words
        ]
        for _, at, pattern, either in sorted(fitting, key=lambda each: each[:2]):
            filled = _fill(pattern, 0, either, 0, self.said, [_TRIES])
            # What begins with "a run" is about no titration A.
            if filled is not None and not (at and not pattern.literals[0] and filled[0][0] == "A"):
                said = _put(pattern, filled)
                return said[0].upper() + said[1:] if at and said else said
        return None

    def _in_parts(self, text: str) -> str | None:
        """Return a text by what stands on both sides of a joint."""
        for joint in _JOINTS:
            for found in re.finditer(re.escape(joint), text[1:]):
                left = self.said(text[: found.start() + 1])
                right = None if left is None else self.said(text[found.end() + 1 :])
                if left is not None and right is not None:
                    return left + self.labels.get(joint, joint) + right
        return None

    def _before_name(self, text: str) -> str | None:
        """Return a label with a name behind it: calculation NaOH."""
        label, _, name = text.rpartition(" ")
        said = _either_way(self._exact.get, label) if _TAKEN.fullmatch(name) else None
        return None if said is None else f"{said} {name}"

    def label(self, text: str) -> str:
        """Return a label of a template, holes and all, sentence by sentence."""
        return " ".join(map(self._label, SENTENCE.split(text)))

    def _label(self, text: str) -> str:
        core = next((each for each in _cores(text) if each in self.labels), text)
        return text.replace(core, self.labels.get(core, core))

    @cached_property
    def labels(self) -> dict[str, str]:
        """The messages as they stand in the catalogue, holes and all."""
        return {english: said for english, said in self.messages if isinstance(english, str) and isinstance(said, str)}

    @cached_property
    def words(self) -> set[str]:
        """The words of the messages, in small letters."""
        return {word.casefold() for each in self._all for part in each.literals for word in WORD.findall(part)}

    @cached_property
    def _exact(self) -> dict[str, str]:
        return {each.literals[0]: each.said[-1] for each in self._all if not each.names}

    @cached_property
    def _patterns(self) -> tuple[Patterns, Patterns]:
        """Messages with holes: those that tell something, and those of little more than "of" or "and".

        The second are for what is left when the rest has been told apart.
        """
        holed = [each for each in self._all if each.names]
        linking = [each for each in holed if each.letters <= _LITTLE]
        return _by_word(each for each in holed if each.letters > _LITTLE), _by_word(linking)

    @cached_property
    def _all(self) -> list[Pattern]:
        return [each for english, said in self.messages for each in _patterns_of(english, said)]


def _by_word(patterns: Iterable[Pattern]) -> Patterns:
    """Return patterns and their words, under the word that the fewest others have."""
    most_first = sorted(patterns, key=lambda each: -each.weight)  # of those that say as much the first in the catalogue
    some = [(frozenset(word for part in each.literals for word in WORD.findall(part)), each) for each in most_first]
    often = Counter(word for words, _ in some for word in words)
    found: Patterns = {}
    for place, (words, pattern) in enumerate(some):
        rarest = min(words, key=lambda word: (often[word], word), default="")
        found.setdefault(rarest, []).append((words, place, pattern))
    return found


def _patterns_of(english: Message, said: Message) -> Iterator[Pattern]:
    """Yield the pattern of a message, or those of one and of several; numbers and formulas in it are holes too."""
    if english == QUOTED:
        return
    forms = tuple(_QUOTED_HOLE.sub(r"\1", form) for form in ((said,) if isinstance(said, str) else said))
    for message in (english,) if isinstance(english, str) else english:
        each = _QUOTED_HOLE.sub(r"\1", message)
        fixed = list(dict.fromkeys(_ATOM.findall(HOLE.sub("\0", each))))
        names = {kept: f"{{{FIXED}{place}}}" for place, kept in enumerate(fixed)}

        def hole(found: re.Match[str], names: dict[str, str] = names) -> str:
            return names.get(found[0], found[0])

        whole = _ATOM.sub(hole, each)
        holes = HOLE.findall(whole)
        # A hole that stands twice holds the same both times: the second is not asked for.
        told = [name if name not in holes[:place] else f"{name}_{place}" for place, name in enumerate(holes)]
        yield Pattern(tuple(HOLE.split(whole)[::2]), tuple(told), tuple(_ATOM.sub(hole, form) for form in forms))


def _put(pattern: Pattern, filled: Sequence[tuple[str, str]]) -> str:
    """Return a pattern in the language, with what its holes hold."""
    counted = next((held for held, _ in filled if _TAKEN.fullmatch(held)), None)
    form = len(pattern.said) - 1 if counted is None else min((ord(counted) - _FIRST) % _FORMS, len(pattern.said) - 1)
    holes = dict(zip(pattern.names, (said for _, said in filled), strict=True))
    return HOLE.sub(lambda hole: holes[hole[1]], pattern.said[form])


def _either_way(way: Way, text: str) -> str | None:
    """Return a text as one way has it; or else what begins with a capital by what does not, or the other way about."""
    for at, either in enumerate(_either(text)):
        said = way(either)
        if said is not None:
            return said[0].upper() + said[1:] if at and said else said
    return None


def _either(text: str) -> list[str]:
    """Return a text as it is, and with its first letter small or capital as it is not."""
    return [text, text[0].swapcase() + text[1:]] if text[:1].isalpha() else [text]


def _cores(text: str) -> list[str]:
    """Return a text without its full stop, with it, without any mark at its end, and without brackets round it."""
    return list(dict.fromkeys((text.removesuffix("."), text, text.rstrip(_AFTER), text.strip(_BEFORE + _AFTER + ")"))))


def _put_back(text: str, taken: Sequence[str]) -> str:
    """Return a text with what was taken out of it."""
    return _TAKEN.sub(lambda each: taken[(ord(each[0]) - _FIRST) // _FORMS], text)


def _fill(
    pattern: Pattern, place: int, text: str, start: int, said: Callable[[str], str | None], tries: list[int]
) -> list[tuple[str, str]] | None:
    """Return what the holes from `place` on hold in a text, and that in the language; None where it does not fit."""
    before = pattern.literals[place]
    if not text.startswith(before, start):
        return None
    start += len(before)
    if place == len(pattern.names):
        return [] if start == len(text) else None
    typed = pattern.names[place].startswith(TYPED)
    for end in _ends(pattern, place, text, start):
        tries[0] -= 1
        if end < start or tries[0] < 0 or _is_cut(text[start:end], before):
            continue
        rest = _fill(pattern, place + 1, text, end, said, tries)
        held = None if rest is None else text[start:end] if typed else said(text[start:end])
        if held is not None and rest is not None:
            return [(text[start:end], held), *rest]
    return None


def _ends(pattern: Pattern, place: int, text: str, start: int) -> list[int]:
    """Return where what fills a hole from `start` on may end: before the words that come after it."""
    after, fixed = pattern.literals[place + 1], pattern.names[place].startswith(FIXED)
    ends = []
    if place == len(pattern.names) - 1:
        ends = [len(text) - len(after)] if text.endswith(after) else []
    elif after:
        ends = [start + found.start() for found in re.finditer(f"(?={re.escape(after)})", text[start:])]
    return [end for end in ends if end == start + 1] if fixed else ends


def _is_cut(held: str, before: str) -> bool:
    """Return whether what fills a hole ends in the middle of a sentence, or goes on where a sentence comes apart."""
    parts = _PARTED.search(held) is not None and not before.endswith((": ", "; ", "("))
    return parts or held.endswith((":", ",", ";"))


@cache
def language(name: str) -> Language:
    """Return the language of a name, "de", with its catalogue."""
    from gettext import c2py

    from babel.messages.pofile import read_po

    with language_file(name).open("rb") as file:
        catalogue = read_po(file, locale=name)
    told = ((_as_message(each.id), _as_message(each.string)) for each in catalogue if each.id and each.string)
    ours = frozenset(str(each.id) for each in catalogue if each.auto_comments == [PRACTICALS])
    return Language([each for each in told if all(each[1])], c2py(catalogue.plural_expr), ours)


def _as_message(text: str | Iterable[str]) -> Message:
    return text if isinstance(text, str) else tuple(text)
