"""What a header says: which field of a run or of a student, which run, which unit."""

import re
from collections.abc import Collection, Iterable, Mapping
from functools import lru_cache
from operator import or_

from labmark.dataclass import dataclass, replace
from labmark.practical.own import ONE, OwnNumber, Several
from labmark.read.several_names import said, taken_out
from labmark.read.words import by_language, cell_words, counting, folded, longest_phrase, phrases, plain, tokens
from labmark.read.written_units import MASSES, TO_FIGURES, Unit, header_unit, unit_of, volume_units

AT_ENDPOINT = ("initial at", "final at", "titre at")
"""Fields of one endpoint of a run that has several: its readings and its titre; the header has its name."""
RUN_FIELDS = (
    *("initial", "final", "titre", "used", "both", "value", "initial again", "final again"),
    *(*AT_ENDPOINT, "used at"),
)
"""Fields of a run: "both" holds two readings; the cells tell what a "value" is, a titre or both;
"again" is the second part of a run whose burette was refilled."""
WHO = ("student", "code", "surname", "forename", "address")
"""Fields that tell who a student is."""
STUDENT_FIELDS = (*WHO, *("mean", "result", "order", "group", "own", "class", "attempt", "partner"))
READINGS = ("initial", "final", "titre", "both", *AT_ENDPOINT)
"""Fields that hold what was read off the burette, or the difference."""
ABOUT = {"code": "ID", "address": "Email", "class": "Class", "attempt": "Attempt", "partner": "Partner"}
"""Fields that say more of a student -> the name of their column."""
QUANTITIES = {
    "amount_concentration": "mol/dm3",
    "mass_concentration": "g/dm3",
    "percentage": "%",
    "molar_mass": "g/mol",
}
"""Lists of words for a result of one quantity -> its unit."""
OWN = ("mass", "aliquot", "known", "blank")
"""Lists of words for numbers that may be the students' own; "own" is the field of their headers."""

_UNIT = re.compile(
    r"(?:\b(?:\d+[.,]\d+|\d{2,})\s*|[/(\[]\s*)?\b(?:[ie]n\s+)?"
    r"(?P<unit>cm\^?\s?3|ml|dm\^?\s?3|cc|mm3|l|litres?|liters?"
    r"|mol\s?/?\s?(?:dm\^?-?3|l)|mol dm\^?-3|g\s?/?\s?dm\^?-?3|%)"
    r"(?![a-z0-9'’])\s*[)\]]?"
)
_QUANTITY = re.compile(r"\b\d+[.,]\d+\b|\bq\s?\d+\b|^\d+[.)]\s+(?=[a-z])")
"""Figures that count no run: 25.0, a question's number."""
_ORDINAL = re.compile(r"^(\d{1,2})\.\s*([^\W\d_]+)(?=\b)(?!\W*(?:n[or]\b\W*)?\d)")
"""1. Titration: a run's number, where no other one stands behind it; 4. Titration 1 is a question's."""
GROUPS = {"bench": "Bench", "bottle": "Bottle"}
"""Meaning of a heading -> name of the grouping."""
_OF_STUDENTS = ("partner", "surname", "forename", "address", "code", "student", *GROUPS, "order", "class", "attempt")
"""Meanings that are fields of a student, the surest first."""
LETTERS = {"i": "initial", "f": "final", "t": "titre"}
"""Readings and titre by no more than a letter."""
_ENDED = re.compile(
    r"(?:v[ _]?)?(?:(?P<letter>[if])[ _]?\(?(?P<number>\d{1,2}|r)\)?|(?P<run>\d{1,2}|r)[ _,]?(?P<end>[if]))"
    r"(?P<unit>(?:(?:\s*[/(\[]|\s+in\b).*)?)"
)
"""V1i, i1 / cm3"""
_ROUGH_END = re.compile(r"[Rr]\W+[ift]\b")
"""R i is a reading of the rough; R I is a run."""
_INITIALLED = re.compile(r"(?P<name>[^\W\d_]{2}[^\d/:(\[]*),? [A-Z]\.?|[A-Z]\. (?P<last>[^\W\d_]{2}[^\d/:(\[]*)")
"""Ines V, T. Bölk: the letter stands for no volume and no titration."""
_OUT_OF = re.compile(
    r"(?:\b(?:marks?|score|points?)\b\s*)?(?:/|out of)\s*\d{1,3}|\D*(?:[(\[]\s*/|\bout of)\s*\d{1,3}\s*[)\]]?"
)
"""/5, Titres (/5), Titres out of 5: marks, and no run."""
WORTH = re.compile(r"[(\[]\s*(?P<most>\d{1,2})\s*(?:marks?|points?|pts?|punkte?|be|puntos?)\s*[)\]]")
"""Mean titre (2 marks): a question, or what it was marked with."""
_EXAMPLE = re.compile(r"[(,;]?\s*\b(?:e\.\s?g|eg|z\.\s?b|for example|such as)\b.*")
"""Which titres did you use (e.g. 1 and 2)?"""
_GIVEN_UNCERTAINTY = re.compile(r"(?:±|\+/-)\s*\d+(?:[.,]\d+)?")
_EXPONENT = re.compile(r"\b(?:dm|cm|m|l|ml|g|kg|mol)\s?\^?-\s?\d\b")
"""Units below a stroke: the 1 of L-1 counts no run."""
_OF_RESULTS = frozenset({"mol/dm3", "g/dm3", "%", "% v/v", "ppm", "g/mol", "mol/g"})
_CONCENTRATION = re.compile(
    r"(?:\d+[.)]\s+)?"
    r"(?:\[[a-z0-9+ -]+\]|c\s?\([a-z0-9+ ()-]+\)|c_[a-z]|c\s?[/(]|%\s?[a-z]|(?:value of )?x (?:in|of)\b.*h2o)"
)
"""[HCl], c(HCl), c / M, % acid, x in Na2CO3.xH2O."""
_LETTER = re.compile(
    r"(?P<lead>^|[:,]\s+|\s-\s+)(?P<before>[^\W\d_]+\.? )?(?P<letter>[cm])(?P<run> ?\d{1,2})?(?![^\W_])"
)
"""c1, mean c, m(KHP); Run 1: m(KHP)."""
_SYMBOL = re.compile(r"(?<![^\W_])v ?([12])(?![^\W_])")
_DIFFERENCE = re.compile(r"(?<![a-z0-9])v[_ ]?(?:[2f]\s*-\s*v[_ ]?[1i]|1\s*-\s*v[_ ]?0)(?![a-z0-9])")
_WITH = frozenset({"use", "using", "from", "with", "aus", "mit", "avec", "partir", "con", "desde"})
"""Words before what a result is worked out with."""
_OF = frozenset({"of", "der", "des", "de"})
_LETTERED = re.compile(r"(?P<letter>[a-z])(?:(?P<number>\d{1,2})(?![^\W_])|$)")
"""r, r1, a2 initial."""
_FIGURE_FIRST = re.compile(r"(\d)[.)]\s*(\D{1,60})")
_LETTERED_WITHIN = re.compile(r"\ba(\d{1,2})\b", re.I)
LONGEST_LETTERED = 60
FROM_TO = "from and to"
"""Tag of readings that are headed so."""
_BESIDE_ENDS = ("run", "trial", "attempt", "rough", "titre", "volume", "reading", "number", "blank")
"""Meanings of what may stand beside From and To."""
_SYMBOLS = {"v", "c", "m"}
"""Letters with numbers that are volumes, concentrations and masses."""
NET = re.compile(r"\b(?:minus|less|net|corrected|subtracted|abzuglich|ohne|corrigee?|moins|menos|corregid[ao])\b|-")
"""Mean titre minus blank: no blank."""
_LISTING = frozenset({"and", "und", "et", "y", "e", "u", "only", "nur", "the"})
"""Words in a list of runs."""
_BOTH = frozenset({"both", "beide", "ambos", "ambas"})
_OF_THEM = _LISTING | _OF | frozenset({"them", "von", "ihnen", "ellos", "ellas", "les", "los", "las"})
_ASIDE = re.compile(r"[(\[][^)\]]*[)\]]|\b(?:only|alone|nur|allein|seul(?:ement)?|solo)\b", re.I)
_ROMAN = {"i": 1, "ii": 2, "iii": 3, "iv": 4, "v": 5, "vi": 6}


@dataclass(frozen=True, slots=True)
class Header:
    """The meaning of a header, a row label, or several of them joined."""

    field: str = ""
    """One of RUN_FIELDS or STUDENT_FIELDS, "run" (the cells name runs), "ignored", or "" where none is understood."""
    kind: str = ""
    """"rough" or "accurate" where the header says so."""
    number: int | None = None
    """Number of the run."""
    scale: int | None = None
    """Microlitres in the unit of volume that stands in the header."""
    group: str = ""
    """Name of the grouping; of a number of the students' own what the practical calls it, if it takes it."""
    tags: frozenset[str] = frozenset()
    """Every meaning found."""
    unknown: int = 0
    """Words that are in no list."""
    text: str = ""
    """The header as written."""
    unit: str = ""
    """Unit of a result that stands in a row of units below the header; of a number of the students' own, any unit."""

    series: str = ""
    """Name of the titration that it is of, where a sample has several."""
    of: str = ""
    """Name of the endpoint or of the result that it is of, where there are several."""

    @property
    def key(self) -> str:
        """What its cells are entered by: the field, and the name where a run or a student has several of the field."""
        name = self.of or (self.series if self.field in ("mean", "runs used") else "")
        return f"{self.field}:{name}" if name else self.field

    @property
    def own(self) -> str:
        """Which number of the students' own it is: what the practical calls it, or else the list of its words."""
        return (
            self.group
            or ("result" if self.field == "result" else "")
            or next((name for name in OWN if name in self.tags), "")
        )

    @property
    def result_unit(self) -> str:
        """The unit that it gives of a result, as written; empty where it gives none."""
        return self.unit if self.of else self.unit or header_unit(self.text)

    @property
    def tells_when(self) -> bool:
        """Whether the header says that the cells are times of the work, and nothing else."""
        return self.field == "ignored" and "when" in self.tags and self.tags <= {"when", "date"} and not self.unknown

    @property
    def names_run(self) -> bool:
        """Whether the header says which run it is about."""
        return bool(self.kind) or self.number is not None


Overrides = Mapping[str, Header]
"""Folded header texts, or "column d" and "row 5" -> what the teacher says they are."""


class Meant(dict[str, Header]):
    """What teacher and practical say of headings, and the names of several titres and results that they may have."""

    def __init__(
        self,
        overrides: Overrides,
        several: Several,
        asked: str = "",
        best: str = "",
        known: OwnNumber | None = None,
    ) -> None:
        """Take also the unit that the result is asked in; where there are several it tells nothing of a heading.

        `best` is the field of a best titre, `known` the concentration that the practical gives.
        """
        super().__init__(overrides)
        self.several, self.names, self.asked = several, several.names, asked if len(several.results) < 2 else ""
        self.best, self.known = best, known


UNSAID = Meant({}, ONE)


def lettered_runs(texts: Iterable[str]) -> dict[str, Header]:
    """Return what the letters of runs mean where a sheet has both: r and r1 are roughs, a1 and a2 accurate runs.

    An r1 alone beside other runs is the rough too. Beside other letters they may be anything (seats A1, B1, R1).
    """
    short = [text for text in texts if len(text) <= LONGEST_LETTERED]
    begun = {text: match for text in short if (match := _LETTERED.match(folded(text)))}
    numbered = [(match["letter"], match["number"]) for match in begun.values() if match["number"]]
    letters = {letter for letter, _ in numbered} - _SYMBOLS
    alone = letters - {"t"} == {"r"} and {number for letter, number in numbered if letter == "r"} == {"1"}
    if not (alone or "a" in letters <= {"a", "r"}):
        return {}
    others = [_understand((text,)) for text in short if text not in begun]
    rough = any(match["letter"] == "r" for match in begun.values()) or any(one.kind == "rough" for one in others)
    runs = ("t", "1") in numbered or any(one.kind == "accurate" or one.number == 1 for one in others)
    if not (runs if alone else rough):
        return {}
    words = {"a": "run", "r": "rough"}
    begun = {text: match for text, match in begun.items() if match["letter"] in words}
    spelt = {text: f"{words[at['letter']]} {at['number'] or ''}{text[at.end() :]}" for text, at in begun.items()}
    spelt |= {text: _LETTERED_WITHIN.sub(r" run \1 ", text) for text in short if text not in begun}  # Used A1
    meant = {text: _understand((new,)) for text, new in spelt.items() if new != text}
    return {
        folded(text): replace(it, text=text) for text, it in meant.items() if text in begun or it.field in RUN_FIELDS
    }


def numbered_runs(texts: Iterable[str]) -> Overrides:
    """Return what 1. Start, 1. End, 2. Start and 2. End mean, where every reading has the same figures, from 1.

    The figures of an online form's questions go on from one to the next.
    """
    begun = [(text, at[1], at[2]) for text in texts if (at := _FIGURE_FIRST.fullmatch(plain(text)))]
    read = [(text, int(number), rest) for text, number, rest in begun if _understand((rest,)).field in READINGS]
    figures = [sorted({number for _, number, of in read if of == rest}) for rest in {rest for *_, rest in read}]
    if not figures or len(figures[0]) < 2 or any(each != [*range(1, len(figures[0]) + 1)] for each in figures):
        return {}
    return {folded(text): replace(_understand((f"run {number} {rest}",)), text=text) for text, number, rest in read}


def ended_runs(texts: Iterable[str]) -> Overrides:
    """Return what V1i and V1f, or i1 and f1, mean where two runs and more have both: i and f alone may be anything."""
    told = [(text, at) for text in texts if len(text) <= LONGEST_LETTERED and (at := _ENDED.fullmatch(text.casefold()))]
    both = [(text, at["run"] or at["number"], LETTERS[at["end"] or at["letter"]], at["unit"]) for text, at in told]
    has = {(run, end) for _, run, end, _ in both}
    runs = {run for run, _ in has if {(run, "initial"), (run, "final")} <= has}
    counted = runs - {"r", "0"}
    if len(counted) < 2 or counted != {*map(str, range(1, len(counted) + 1))}:
        return {}
    names = {run: "rough" if run == "r" else f"run {run}" for run in runs}
    spelt = {text: f"{names[run]} {end}{unit}" for text, run, end, unit in both if run in names}
    return {folded(text): replace(_understand((new,)), text=plain(text)) for text, new in spelt.items()}


def from_and_to(texts: Iterable[str], endpoints: tuple[str, ...] = ()) -> Overrides:
    """Return what From and To mean: start and end of a run, where each has the other beside it and nothing else does.

    Alone, or beside other words (Time from, Bench to), they may be anything; to one of the `endpoints` is an end, too.
    """
    short = [text for text in texts if len(text) <= LONGEST_LETTERED]
    others = (_understand((text,)) for text in short)
    if any(each.field in ("initial", "final") and not each.unknown for each in others):
        return {}
    without = (taken_out(endpoints, (text,)) for text in short)
    at_endpoints = {tokens(bare[0]): Header() for bare, names in without if names}
    found: dict[str, Header] = {}
    for starts, ends in zip(by_language("from"), by_language("to"), strict=True):
        first, last = _spelt_with(short, starts, "initial"), _spelt_with(short, ends, "final")
        found |= {folded(one.text): one for rest, one in first.items() if rest in last | at_endpoints}
        found |= {folded(one.text): one for rest, one in last.items() if rest in first}
    return found


def _spelt_with(texts: Iterable[str], words: Collection[str], field: str) -> dict[tuple[str, ...], Header]:
    """Return what texts mean that have one of these words for a reading, by what else stands in them."""
    found: dict[tuple[str, ...], Header] = {}
    for text in texts:
        there = [word for word in tokens(text) if word in words]
        if len(there) != 1:
            continue
        meant = _understand((re.sub(rf"(?<![^\W_]){there[0]}(?![^\W_])", field, folded(text)),))
        if meant.field == field and not meant.unknown and meant.tags <= {field, *_BESIDE_ENDS}:
            rest = tuple(word for word in tokens(text) if word not in words)
            found[rest] = replace(meant, text=plain(text), tags=meant.tags | {FROM_TO})
    return found


def best_titres(texts: Iterable[str]) -> str:
    """Return the field of best titres: they are one of the runs again, unless no other accurate run has a heading."""
    headers = (_understand((text,)) for text in texts if len(text) <= LONGEST_LETTERED)
    of_runs = (each for each in headers if each.field in READINGS or (each.field == "value" and each.kind))
    return "ignored" if any(each.kind != "rough" and "best" not in each.tags for each in of_runs) else "titre"


def understand(texts: str | Iterable[str], overrides: Meant = UNSAID) -> Header:
    """Return what a header says; several texts (merged headers over each other) are taken together.

    `overrides` are the teacher's own meanings, and the practical's, by folded text.
    """
    parts = (texts,) if isinstance(texts, str) else tuple(part for part in texts if part.strip())
    header = _given(parts, overrides) if overrides else None
    bare, found = taken_out(overrides.names, parts) if overrides.names else (parts, ())
    whole, without = header or _understand(parts), header or _understand(bare)
    if overrides.best and "best" in whole.tags and whole.field in ("titre", "ignored"):
        return replace(whole, field=overrides.best)
    if not found or (header and (header.series or header.of)):
        return whole
    meant = said(overrides.several, without.field, without.tags, without.unknown, found)
    if meant is None:
        return whole
    field, series, of = meant
    unit = header_unit(without.text) if field == "result" else without.unit
    return replace(without, field=field, series=series, of=of, unit=unit, text=" ".join(map(plain, parts)))


def _given(parts: tuple[str, ...], overrides: Overrides) -> Header | None:
    """Return what the teacher says of a header, with what stands above or below it; None where that is not said."""
    known = next((part for part in (" ".join(parts), *reversed(parts)) if folded(part) in overrides), None)
    if known is None:
        return None
    given, beside = replace(overrides[folded(known)], text=" ".join(parts)), tuple(one for one in parts if one != known)
    if given.field in ("own", *RUN_FIELDS) and not given.names_run and beside:  # the run stands over the number
        run = _understand(beside)
        return replace(given, kind=run.kind, number=run.number, tags=given.tags | run.tags)
    if given.field in ("value", "run") and given.names_run and beside:  # the reading stands over or below its run
        field = _understand(beside)
        return replace(given, field=field.field, scale=field.scale) if field.field in RUN_FIELDS else given
    return given


def titration_named(text: str, overrides: Meant) -> str:
    """Return the titration that a text names, where it says hardly more: Total titration, Calcium only, EBT (total)."""
    header = understand(text, overrides)
    bare = header.field in ("", "run", "ignored") and not header.names_run
    series = header.series if bare and header.unknown < 2 else ""
    if series or not overrides.several.titrations:
        return series
    parts = (_ASIDE.sub("", text), *(aside.strip("()[]") for aside in _ASIDE.findall(text)))
    return next(filter(None, (titration_named(part, overrides) for part in parts if part != text)), "")


@lru_cache(maxsize=16384)
def _understand(parts: tuple[str, ...]) -> Header:
    text = " ".join(plain(part) for part in parts)
    if group := _group(parts):
        return Header("group", group=group, text=text)
    initialled = _INITIALLED.fullmatch(text)
    if initialled and not (named := _understand((initialled["name"] or initialled["last"],))).tags:
        return replace(named, text=text)
    unit = header_unit(text.rstrip("?.: "))
    known = unit_of(unit)
    bare = folded(" ".join(TO_FIGURES.sub(" ", _EXAMPLE.sub("", WORTH.sub(" ", folded(part)))) for part in parts))
    low = _LETTER.sub(lambda match: _spelt_out(match, known), bare)
    bare = " ".join(low.rsplit(folded(unit), 1)) if unit else low  # mg/L is not in mg CaCO3/L
    without = _EXPONENT.sub(" ", _GIVEN_UNCERTAINTY.sub(" ", bare))
    scale, bare = _unit(_run_before_number(without))
    tags, numbers, unknown = _beside_one_another(text, low, bare)
    of_titres = {"mean", "outcome"} <= tags and scale and not (known or tags & {*QUANTITIES})
    field = "ignored" if _OUT_OF.fullmatch(low) else _field(tags | {"titre"} if of_titres else tags, numbers)
    kind, number = ("", None) if field == "mean" and len(numbers) > 1 else _run(tags, numbers)
    if field in ("initial", "final") and "refill" in tags:
        field = f"{field} again"
    other = low.startswith("%") or (known and known not in MASSES)  # % Cu by mass, Mass of NaOH / g dm-3
    of_mass = field == "own" and "mass" in tags and other
    if of_mass or (not field and ((known and known.kind in _OF_RESULTS) or (not scale and _CONCENTRATION.match(low)))):
        field = "result"
    group = next(name for tag, name in GROUPS.items() if tag in tags) if field == "group" else ""
    return Header(field, kind, number, scale, group, frozenset(tags), unknown, text, unit if field == "own" else "")


def _beside_one_another(text: str, low: str, bare: str) -> tuple[set[str], list[int], int]:
    """Return what `_tags` does of a header, with what the words mean beside one another.

    It is given as written, folded, and without units and what counts no run.
    """
    tags, numbers, unknown = _of_symbols(bare)
    *run, end = tokens(bare) or ("",)
    names_run = "rough" in tags or any(char.isdigit() for word in run for char in word) or _ROUGH_END.match(text)
    if end in LETTERS and names_run:  # Rough i, Rough f, R i, 1 i, 1 f, T1 f
        tags, numbers, unknown = _of_symbols(" ".join((*run, LETTERS[end])))
    beside_readings = tokens(bare) == ("r",) or tags & {"initial", "final", "titre", "volume"}
    if "r" in tokens(bare) and not numbers and beside_readings:  # R beside 1, 2 and 3 is the rough
        tags.add("rough")
    if re.search(r"\bfinal\b.*(?:-|minus)\s*\binitial\b|\bende\b.*-.*\banfang", low):
        tags.add("titre")
    if "final" in tags and tags & {"mean", "outcome"} and tags & {"run", "trial"} and not numbers:
        tags -= {"final", "run", "trial"}  # after your last titration
    if tags & {"mean", "titre"} and NET.search(low):
        tags.discard("blank")
    return tags, numbers, unknown


def _spelt_out(match: re.Match[str], unit: Unit | None) -> str:
    """Return a symbol as a word: m beside a unit of mass, c with a run's number or a mean (Run c is a run)."""
    before, run = match["before"] or "", match["run"] or ""
    if match["letter"] == "m":
        return f"{match['lead']}{before}mass{run} " if unit in MASSES else match[0]
    of_mean = "mean" in phrases().get(tokens(before), ())
    return f"{match['lead']}{before}concentration{run}" if of_mean or (run and not before) else match[0]


def _of_symbols(bare: str) -> tuple[set[str], list[int], int]:
    """Return what `_tags` does, with V2 - V1 for a titre, and V1 and V2 beside a run's name for its readings."""
    bare = _DIFFERENCE.sub(" titre ", bare)
    symbol = _SYMBOL.search(bare)
    if symbol:
        meant = _SYMBOL.sub(" initial " if symbol[1] == "1" else " final ", bare)
        tags, numbers, unknown = _tags(tokens(meant))
        if (tags & {"run", "trial", "rough"} or numbers) and not tags & {"titre", "mean"}:
            return tags, numbers, unknown
    return _tags(tokens(bare))


def _group(parts: tuple[str, ...]) -> str:
    """Return the grouping's name where a header begins with "Group"."""
    short = (seen for part in parts if len(seen := plain(part)) <= 60)
    return next((seen for seen in short if "group" in phrases().get(tokens(seen)[:1], ())), "")


def _run_before_number(low: str) -> str:
    """Return a header that begins with 1. Titration with Titration 1: the figure is no question's."""
    first = _ORDINAL.match(low)
    if first is None or not {"run", "trial"} & {*phrases().get((first[2],), ())}:
        return low
    return f"{first[2]} {first[1]}{low[first.end() :]}"


def _unit(low: str) -> tuple[int | None, str]:
    """Return the unit of volume in a header [µL in one], and the header without it."""
    scale = None
    for match in _UNIT.finditer(low):
        scale = scale or volume_units().get(" ".join(match["unit"].split()))
    return scale, _QUANTITY.sub(" ", _UNIT.sub(" ", low))


def _tags(words: tuple[str, ...]) -> tuple[set[str], list[int], int]:
    """Return the meanings of a header's words, longest wordings first, its numbers, and how many words are unknown."""
    tags: set[str] = set()
    numbers: list[int] = []
    mean = (0, 0)
    unknown = at = 0
    while at < len(words):
        size, meanings = _phrase_at(words, at)
        if "mean" in meanings:
            mean = (at, at + size)
        tags.update(each for each in meanings if each != "outcome" or not _asks_for_mean(words, mean, at, tags))
        if not meanings:
            number = _number(words[at], tags, at + 1 == len(words))
            if number is None:
                unknown += 1
            else:
                numbers.append(number)
        at += size
    if tags & {"outcome", *QUANTITIES}:
        tags.add("result")
    return tags, numbers, unknown


def _asks_for_mean(words: tuple[str, ...], mean: tuple[int, int], at: int, tags: set[str]) -> bool:
    """Return whether a word for an answer is about the mean titre before it: What is your mean titre? Answer: ...

    A mean result, a mean of results, and an answer that is worked out from the mean titre are results.
    """
    start, end = mean
    of_results = end - start == 1 and (at == end or (words[end] in _OF and "titre" not in tags))
    return "mean" in tags and not of_results and not _WITH & {*words[:start]}


def listed_runs(text: str) -> set[str]:
    """Return the labels of the runs that a cell lists ("1,2", "runs 1 and 3", "2 to 4"); none where it is no such list.

    "1-3" may be a list of two or a range of three, so it is neither.
    """
    low = folded(text)
    for match in re.finditer(r"\b(\d)\s*(-|(?:to|bis|a|hasta)\b)\s*(?:[a-z]+ )?(\d)\b", low):
        first, last = int(match[1]), int(match[3])
        if match[2] == "-" and last != first + 1:
            return set()
        low = low.replace(match[0], " ".join(map(str, range(first, last + 1))), 1)
    tags, numbers, unknown = _tags(tuple(word for word in tokens(low) if word not in _LISTING))
    if unknown or tags - {"run", "trial", "titre", "used", "rough", "number"} or len(low) > 60:
        return set()
    return {str(number) for number in numbers} | ({"Rough"} if "rough" in tags else set())


def says_all(text: str, number: int) -> bool:
    """Return whether a cell says that all of so many runs are meant, and nothing else: all of them, both, all three."""
    words, cardinal = tokens(text), counting("cardinal")
    counts = {2 if word in _BOTH else cardinal.get(word, number) for word in words}
    known = (word in cell_words("all") or word in _OF_THEM or word in cardinal or word == str(number) for word in words)
    of_runs = ({*phrases().get((word,), ())} & {"run", "trial", "titre"} for word in words)
    return bool(cell_words("all") & {*words}) and counts == {number} and all(map(or_, known, map(bool, of_runs)))


def _phrase_at(words: tuple[str, ...], at: int) -> tuple[int, tuple[str, ...]]:
    for size in range(min(longest_phrase(), len(words) - at), 0, -1):
        meanings = phrases().get(words[at : at + size])
        if meanings:
            return size, meanings
    return 1, ()


def _number(word: str, tags: set[str], last: bool) -> int | None:
    if word.isdecimal():
        return int(word) if len(word) <= 3 else None
    match = re.fullmatch(r"([^\W\d_]+)(\d{1,2})", word)
    if match and (match[1],) in phrases():  # Run1, V2; the figures of H2SO4 count nothing
        tags.update(phrases()[match[1],])
        return int(match[2])
    match = re.fullmatch(r"(\d{1,2})(?:st|nd|rd|th|er|e|eme|a|o|te|ter)", word)
    if match:
        return int(match[1])
    if word in counting("ordinal"):
        return counting("ordinal")[word]
    if tags & {"run", "trial", "titre", "rough"} or (last and tags & {"initial", "final", "used"}):
        if word in _ROMAN:
            return _ROMAN[word]
        if len(word) == 1 and "a" <= word <= "f":
            return ord(word) - 96
    return None


def _field(tags: set[str], numbers: list[int]) -> str:
    """Return the field that a set of meanings stands for."""
    if tags & {"percent_error", "uncertainty", "other", "expected"} or ("class" in tags and len(tags) > 1):
        return "ignored"
    reading = _reading_field(tags)
    of_partner = "partner" in tags and tags & {"titre", "mean", "result"}
    if (of_partner or ("best" in tags and not tags & {"mean", "used"})) and not reading and not numbers:
        return "ignored"  # Run 1 titre (partner A) is of a pair's own runs, as Best titre 1 is of one's own
    if tags & {*OWN}:
        return _own_field(tags, reading)
    if tags & {"statistic", "note"} and not reading:
        return "ignored"
    of_runs = {"mean", "used"} <= tags and "titre" not in tags and tags & {"run", "trial", "rough"}
    if of_runs or ("which" in tags and tags & {"titre", "run", "trial", "result"}):
        return "used"
    if found := _worked_out_field(tags, reading) or reading:
        return found
    if "used" in tags and not ("best" in tags and numbers):
        return "volume" if "volume" in tags else "used"  # Volume of NaOH used
    if tags & {"titre", "best"}:
        return "titre"
    return _student_field(tags) or _run_field(tags, numbers)


def _worked_out_field(tags: set[str], reading: str) -> str:
    """Return which of the student's own values a header is for, if it is for one."""
    if "mean" in tags and not ("result" in tags and not tags & {"titre", "volume"}):  # a mean concentration is none
        return "ignored" if reading in ("initial", "final", "both") else "mean"
    return "result" if "result" in tags and not reading and not tags & {"titre", "run", "trial"} else ""


def _own_field(tags: set[str], reading: str) -> str:
    """Return what a word for a number of the students' own makes of a header: Percentage by mass is a result."""
    if "result" in tags:
        return "result"
    if tags & {"statistic", "number", "note"} or ("mean" in tags and "blank" not in tags):
        return "ignored"
    return "ignored" if reading and not tags & {"mass", "blank"} else "own"


def _reading_field(tags: set[str]) -> str:
    if {"initial", "final"} <= tags:
        return "titre" if "titre" in tags else "both"
    return "initial" if "initial" in tags else "final" if "final" in tags else ""


def _student_field(tags: set[str]) -> str:
    if tags & {"run", "trial", "rough"}:
        return ""
    found = next((tag for tag in _OF_STUDENTS if tag in tags), "")
    if found:
        return "group" if found in GROUPS else found
    return "ignored" if tags & {"time", "when", "date", "note", "unit"} else ""


def _run_field(tags: set[str], numbers: list[int]) -> str:
    if "time" in tags:
        return "ignored"
    if "rough" in tags:
        return "value"
    if tags & {"run", "trial"}:
        return "value" if numbers else "run"
    if "volume" in tags:
        return "volume"
    if numbers and tags <= {"number"}:
        return "value"
    return "ignored" if "number" in tags else ""


def _run(tags: set[str], numbers: list[int]) -> tuple[str, int | None]:
    number = numbers[0] if numbers else None
    if "rough" in tags:
        return "rough", number
    if "run" in tags and number is not None:
        return "accurate", number
    return "", number
