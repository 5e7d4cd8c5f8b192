"""What results.json holds, as types: `tree` makes it, and templates/results.schema.json is generated from them.

Volumes are in cm³ and keep the decimals that were written down; other figures are in the unit given with them. None:
there is nothing to say. Only what checks or describes results.json imports this module while it runs.
"""

from decimal import Decimal
from typing import Annotated, Any, Literal, NotRequired

from pydantic import ConfigDict, Field, TypeAdapter, WithJsonSchema, with_config
from pydantic.json_schema import GenerateJsonSchema

# Pydantic reads the one of the standard library from Python 3.12 on.
from typing_extensions import TypedDict

from labmark.decisions.model import What
from labmark.findings import KINDS
from labmark.practical.scheme import CRITERIA

closed = with_config(ConfigDict(extra="forbid", use_attribute_docstrings=True))
"""A record that has no other keys, and neither have the records in it."""
open_ended = with_config(ConfigDict(extra="allow", use_attribute_docstrings=True))
"""A record to which a practical or a method may add keys of its own, as to the records in it."""

Number = Annotated[Decimal | float, WithJsonSchema({"type": "number"})]
Amount = Annotated[Decimal | float, WithJsonSchema({"type": "number", "minimum": 0})]
Spread = Amount | None
"""A standard deviation or a range."""
Share = Annotated[float, Field(ge=0, le=1)]
Count = Annotated[int, Field(ge=0)]
Place = Annotated[int, Field(ge=1)]
Text = Annotated[str, Field(min_length=1)]
Sha256 = Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
Cell = Annotated[str, Field(min_length=1, description="Sheet and address, as in Results!C2.")]
Criterion = Annotated[
    str, Field(min_length=1, description="One of these, or the teacher's own.", examples=list(CRITERIA))
]
Code = Annotated[str, WithJsonSchema({"enum": list(KINDS)})]
Numbers = dict[str, Number | None]
"""Name of each endpoint, titration or result -> a figure."""


class UnusedCell(TypedDict):
    """A filled cell that nothing was taken from, and why."""

    cell: Cell
    why: Text


class Cells(TypedDict):
    """Every filled cell of every sheet read: filled = used + ignored + rejected."""

    filled: Count
    used: Count
    ignored: Count
    rejected: Count
    ignored_cells: list[UnusedCell]
    rejected_cells: list[UnusedCell]


class Source(TypedDict):
    """What was read."""

    file: str
    sha256: Sha256
    sheets: list[str]
    practical_sha256: NotRequired[str]
    """Hash of the practical as it was given."""
    understood: NotRequired[list[str]]
    """How the sheet was understood, a sentence each."""
    notes: NotRequired[list[str]]
    """What the teacher should know of the file."""


class Burette(TypedDict):
    """The burette, with what else the practical says of it."""

    solution: str


class ResultAsked(TypedDict):
    """What is asked for."""

    of: str
    quantity: str
    significant_figures: NotRequired[Place | None]


class Concordance(TypedDict):
    """Which titres (or results) agree."""

    within: Amount
    at_least: Place
    of: NotRequired[Literal["titre", "result"]]


class Criteria(TypedDict):
    """One criterion of the marking scheme."""

    criterion: Criterion


class Grade(TypedDict):
    """A grade, and from where on it is given."""

    at_least: Number
    """In per cent of `out_of`."""
    grade: str


@open_ended
class PracticalUsed(TypedDict):
    """The practical as used, defaults filled in; methods may add keys of their own."""

    title: str
    equation: str | list[str]
    through: NotRequired[list[str]]
    indicator: NotRequired[str | None]
    cautions: list[str]
    burette: Burette
    flask: dict[str, Any]
    sample: NotRequired[dict[str, Any] | None]
    excess: NotRequired[dict[str, Any] | None]
    """Reagent in excess of a back titration; null for a direct one."""
    result: ResultAsked
    reference: NotRequired[dict[str, Any] | None]
    concordance: Concordance
    marks: list[Criteria]
    grades: NotRequired[list[Grade]]
    """The best first."""
    unit: str
    derived: dict[str, Any]
    """What follows from the practical: mole ratios, molar mass, expected titre; of a back titration also
    `back_titration`, with its blank titre in cm3; of several titres also `titres`, with the amount of titrant that one
    of each unknown takes, `expected_titres`, and which titres each result `rests_on`."""


HeldBy = TypedDict("HeldBy", {"from": Literal["practical", "class"]})


class Reference(HeldBy):
    """What a result is held against."""

    value: Number | None
    standard_uncertainty: Spread
    unit: str


class ClassReference(Reference):
    """With several results that of the first, and those of all by name."""

    results: NotRequired[dict[str, Reference | None]]


class Run(TypedDict):
    """One run, with the titre that its readings give and what the student made of it."""

    label: Text
    kind: Literal["rough", "accurate", "blank"]
    initial: Number | None
    final: Number | None
    """The last of several readings."""
    titre: Number | None
    """Of the last of several endpoints."""
    parts: NotRequired[list[list[Number]]]
    """Initial and final reading of each part of a run whose burette was filled again."""
    claimed_titre: Number | None
    used: bool
    """Whether the run is in the mean."""
    claimed_used: bool | None
    """The student's own tick."""
    cells: dict[str, Cell]
    why: str
    """Why it is or is not in the mean."""
    likely: Number | None
    """Likely intended titre: a suggestion, never taken."""
    titration: NotRequired[str]
    """Which of several it belongs to."""
    readings: NotRequired[Numbers]
    """Name of each endpoint -> what was read at it."""
    initials: NotRequired[Numbers]
    """Only of endpoints before which the burette was filled: what it was read at."""
    titres: NotRequired[Numbers]
    """From the endpoint before each."""
    claimed_titres: NotRequired[Numbers]
    used_for: NotRequired[dict[str, bool]]
    whys: NotRequired[dict[str, str]]
    likely_for: NotRequired[Numbers]
    result: NotRequired[Number | None]
    """What the run gives, where results must agree rather than titres; the first of several."""
    results: NotRequired[Numbers]
    claimed_result: NotRequired[Number | None]
    """Own result of the run."""
    expected_titre: NotRequired[Number | None]
    """Titre that the reference gives with the run's own numbers."""
    written_initial: NotRequired[Number | None]
    """As the class sheet has it, where the teacher corrected it."""
    written_final: NotRequired[Number | None]
    """The same."""
    written_readings: NotRequired[Numbers]
    """The same, by endpoint."""


class Input(TypedDict):
    """A number that the student, a run or the student's group owns."""

    name: str
    """Key of the practical, as in sample.mass."""
    value: Number
    unit: str
    owner: Literal["student", "run", "group"]
    run: str | None
    cell: str
    written_value: NotRequired[Number | None]
    """As the class sheet has it, where the teacher corrected it."""


class Result(TypedDict):
    """A result with its uncertainty."""

    value: Number
    unit: str
    standard_uncertainty: Spread
    expanded_uncertainty: Spread
    coverage_factor: Annotated[float, Field(gt=0)] | None


class Printed(TypedDict):
    """Result, reference and percent_error as people read them, each with digits that give the others."""

    result: str | None
    reference: str | None
    percent: Number | None


class Comparison(TypedDict):
    """Whether the combined expanded uncertainty explains the difference from the reference."""

    difference: Number
    combined_expanded: Spread
    zeta: Number | None
    en: Number | None
    inside: bool
    sentence: Text


class Step(TypedDict):
    """One step of the working, in the student's own numbers."""

    what: str
    formula: str
    numbers: str
    value: Number
    unit: str
    shown: str
    result: NotRequired[str]
    """Which of several results it works out; empty where there is one."""


class Part(TypedDict):
    """What one source adds to an uncertainty."""

    source: str
    value: Spread
    unit: str
    distribution: NotRequired[Literal["rectangular", "triangular", "arcsine", "normal"]]
    percent: Spread
    share: Share | None


class Uncertainty(TypedDict):
    """How sure a result is, and why."""

    school_percent: Spread
    degrees_of_freedom: Amount | None
    advice: NotRequired[str | None]
    """Which part to make smaller first."""
    budget: list[Part]
    """Largest part first; the shares of the variance add up to 1."""


class OfAResult(TypedDict):
    """What is said of each of several results."""

    percent_error: Number | None
    z: Number | None
    """(result - reference)/sigma."""
    z_prime: Number | None
    """z with the reference's own uncertainty counted; null where that is below 0.3 sigma."""
    comparison: Comparison | None
    uncertainty: Uncertainty | None
    reference: Reference | None
    printed: Printed


class Claimed(TypedDict):
    """What the student wrote."""

    mean_titre: Number | None
    result: Number | None
    unit: NotRequired[str]
    """Of the result, where it is that of another quantity than asked for."""
    mean_titres: NotRequired[Numbers]
    results: NotRequired[Numbers]
    units: NotRequired[dict[str, str]]
    """Name of a result -> its unit, where that is of another quantity than asked for."""
    unread: NotRequired[dict[str, dict[str, str]]]
    """mean_titre, result -> its name (blank where there is one) -> what is written where it cannot be read."""


class Finding(TypedDict):
    """Something noticed: a hypothesis with its evidence; the teacher decides."""

    finding: Code
    run: str | None
    """Label of the run."""
    level: Literal["note", "check", "fault"]
    probability: Share | None
    message: Text
    cells: list[Cell]
    evidence: dict[str, Any]
    aside: NotRequired[Literal[True]]
    """The teacher does not uphold it."""


class Mark(TypedDict):
    """The mark for one criterion."""

    criterion: Criterion
    result: NotRequired[str]
    """Which of several results it is about."""
    title: Text
    """What people read."""
    mark: Amount | None
    """Null while it is pending, or where there is nothing to mark on; it then counts in no total."""
    pending: NotRequired[Literal[True]]
    """The mark waits."""
    out_of: Amount
    reason: Text
    told: NotRequired[str]
    """The reason as the student reads it, where it differs."""
    by: Literal["scheme", "teacher"]
    scheme_mark: NotRequired[Number | None]
    """The scheme's own mark, beside one that the teacher decided."""
    cells: list[Cell]


class Attention(TypedDict):
    """Who needs the teacher first, and why."""

    rank: Place
    why: Text
    brief: Text
    """The first reason in three to five words."""


class Feedback(TypedDict):
    """Words for the student; another student is never mentioned."""

    summary: str
    well: NotRequired[str]
    """One thing that went well."""
    causes: list[str]
    next: list[str]


class About(TypedDict):
    """What the class sheet says of the student beside the groupings."""

    ID: NotRequired[str]
    Email: NotRequired[str]
    Class: NotRequired[str]
    Attempt: NotRequired[str]
    Partner: NotRequired[str]


class Told(OfAResult):
    """What a student recorded, what it gives by a choice of the runs, and what the student made of it; of several
    results the first.
    """

    cells: list[Cell]
    runs: list[Run]
    inputs: list[Input]
    concordant: bool
    """Of all titres where there are several."""
    concordant_sets: NotRequired[dict[str, bool]]
    """Name of each endpoint or titration -> whether its titres agree; so with the others by name."""
    sets: list[list[str]]
    """Labels of every largest concordant set; the first is behind mean_titre."""
    sets_of: NotRequired[dict[str, list[list[str]]]]
    mean_titre: Number | None
    """Of the last of several titres."""
    mean_titres: NotRequired[Numbers]
    span: Spread
    spans: NotRequired[Numbers]
    expected_titre: Number | None
    expected_titres: NotRequired[Numbers]
    result: Result | None
    results: NotRequired[dict[str, Result | None]]
    by_result: NotRequired[dict[str, OfAResult]]
    order: int | None
    """Place in the order of work."""
    steps: list[Step]
    claimed: Claimed
    feedback: Feedback


class Student(Told):
    """One student."""

    student: str
    number: Place
    """Place in the sheet, from 1."""
    absent: bool
    groups: dict[str, str]
    about: About
    notes: list[str]
    findings: list[Finding]
    marks: list[Mark]
    total: Amount
    """Sum of the marks that are there."""
    out_of: Amount
    """The most that these could be."""
    grade: str | None
    """Null while a mark is pending, and below the lowest."""
    accuracy_by_reference: Number | None
    """What a mark for accuracy that waits for a reference or a group would be by the reference as it stands."""
    accuracy_by_class: Number | None
    """The same by the class's (or a shifted group's) own value."""
    total_by_reference: Number | None
    """Total with accuracy_by_reference for the accuracy mark."""
    total_by_class: Number | None
    """Total with accuracy_by_class for the accuracy mark."""
    excused: NotRequired[Literal[True]]
    """By the teacher: nothing is counted."""
    comment: NotRequired[Text]
    """The teacher's words, as they stand on the sheet."""
    progress: NotRequired[Text]
    """With [sheet] progress, in a cohort: how the work differs from earlier practicals, as on the sheet."""
    attention: Attention | None
    sheet: str | None
    """File of the student's sheet, from the folder."""
    by_own_choice: NotRequired[Told]
    """What the student's sheet shows instead: by the runs that they took, which agree as well."""


class Decision(TypedDict):
    """What the teacher decided about one thing."""

    student: str | None
    """Null for the class."""
    ID: NotRequired[str]
    """The student's, where there is one."""
    what: What
    of: str | None
    """Criterion, run, finding, input, or whose reference; null where there is one only."""
    run: NotRequired[str]
    """Run of a finding or an input that has one."""
    endpoint: NotRequired[str]
    """Whose reading it is, where a run has several."""
    about: NotRequired[str]
    """Which group or fault a finding about the class is about."""
    on: NotRequired[str]
    """Readings of a run when it was taken in or left out."""
    value: Number | str | bool
    was: Number | str | bool | None
    """What stood there: the scheme's mark, the reading as written, whether the run was in the mean."""
    stale: bool
    """What it was made on has changed since, or is gone; use, readings, inputs and references are then not applied."""


@closed
class Screening(TypedDict):
    """One screening test of the class."""

    test: Literal["Grubbs", "Grubbs, two highest", "Grubbs, two lowest", "Dixon", "Cochran"]
    what: str
    n: Count
    runs: int | None
    statistic: Number
    critical: Number
    alpha: Annotated[float, Field(gt=0, lt=1)]
    sides: Literal[1, 2]
    beyond: bool
    students: list[str]
    note: str


@closed
class Level(TypedDict):
    """One level of the spread: class, bench, student or run."""

    level: str
    sd: Spread
    low: Spread
    high: Spread
    share: Share | None
    units: Count
    dof: Count


class Components(TypedDict):
    """Where the spread comes from."""

    what: str
    note: str
    unit: str
    levels: list[Level]
    left_out: Any


def holds(*keys: str) -> WithJsonSchema:
    """Return that a record has these keys at least."""
    return WithJsonSchema({"type": "object", "required": list(keys)})


Free = dict[str, Any]


@open_ended
class Statistics(TypedDict, total=False):
    """Further figures of the class; "what" says what each is. None of them decides a mark."""

    median: Number | None
    made: Spread
    """1.483 median absolute deviations."""
    robust_mean_uncertainty: Spread
    """1.25 s*/sqrt(p)."""
    repeatability_of_titre: Spread
    """Of a single titre [cm3], over every accurate run."""
    precision: Annotated[Free, holds("what", "unit", "n", "p", "dof", "repeatability_limit", "reproducibility_limit")]
    """ISO 5725-2 over the used runs, with the limits 2.8 s."""
    reference_test: Annotated[Free, holds("verdict", "shift", "shift_titre", "checks")] | None
    groups: list[Annotated[Free, holds("name", "groups", "left_out")]]
    drift: (
        Annotated[
            Free,
            holds("what", "n", "slope", "low", "high", "first_to_last_titre", "p", "drifting", "at_first", "at_last"),
        ]
        | None
    )
    relative: (
        Annotated[Free, holds("what", "unit", "n", "shift", "robust_sd", "repeatability_sd", "reproducibility_sd")]
        | None
    )
    """In per cent of each student's own reference; null where all share one."""
    by_reference: list[
        Annotated[
            Free,
            holds(
                *("what", "groups", "reference", "standard_uncertainty", "expected_titre", "students", "n", "bands"),
                *("robust_mean", "robust_sd", "robust_mean_uncertainty", "shift_percent"),
            ),
        ]
    ]
    """The students of each reference; empty where all share one."""
    screening: list[Screening]
    mandel: (
        Annotated[
            Free,
            holds("what", "note", "n", "students", "runs", "h", "k", "h_warning", "h_action", "k_warning", "k_action"),
        ]
        | None
    )
    """h and k, an entry a student in each list."""
    components: Components | None
    budget: (
        Annotated[
            Free, holds("what", "unit", "value", "standard_uncertainty", "expanded_uncertainty", "rows", "advice")
        ]
        | None
    )
    """Of a result at the centre of the class."""
    standardisation: (
        Annotated[Free, holds("what", "unit", "n", "each", "value", "standard_uncertainty", "budget", "sentence")]
        | None
    )
    """What the technician's runs give."""


class Hypothesis(TypedDict):
    """What is looked for at the bench. Common practice, no source."""

    what: Text
    scope: Literal["run", "student"]
    """Whether it happens to one run or to all that a student did."""
    finding: str | None
    """What it is claimed as; null where titres alone never carry it."""
    direction: Literal["", "+", "-", "+/-"]
    """Which way the titre goes."""
    effect: Text
    """Which way and how much, in words."""
    rate: Annotated[float, Field(gt=0, le=1)]
    """Share of accurate runs, or of students, before anything is known of this class."""
    looks_like: Text
    tell: Text
    """To the student, for next time."""
    check: Text
    """What would confirm it, or tell it from the others."""


class Band(TypedDict):
    """A marking band."""

    mark: Amount
    low: Number
    high: Number


class ClassOfAResult(TypedDict):
    """Figures of the class, in the unit of the result."""

    results: Count
    mean: Number | None
    sd: Spread
    robust_mean: Number | None
    robust_sd: Spread
    repeatability_sd: Spread
    reproducibility_sd: Spread
    sigma: Spread
    """Standard deviation behind z."""
    bands: list[Band]
    """Marking bands for accuracy, best first."""
    statistics: Statistics


class ClassOfSeveral(ClassOfAResult):
    """The same for each of several results."""

    unit: str


class MarksOfACriterion(TypedDict):
    """How the class did in one criterion."""

    criterion: Criterion
    result: NotRequired[str]
    title: Text
    out_of: Amount
    of: Count
    """Students with a mark."""
    pending: Count
    """Students whose mark waits."""
    full: Count
    """Students with full marks."""
    mean: Number | None


class MarksOfTheClass(TypedDict):
    """How the class did."""

    mean: Number | None
    out_of: Amount | None
    """What everybody's total is out of; null where that differs."""
    mean_percent: Number | None
    """Mean of total over out_of."""
    by_criterion: list[MarksOfACriterion]


class ClassFigures(ClassOfAResult):
    """The class, with several results by the first of them."""

    students: Count
    absent: Count
    expected_titre: Number | None
    mean_titre: Number | None
    mean_titres: NotRequired[Numbers]
    by_result: NotRequired[dict[str, ClassOfSeveral]]
    """Name of each of several results -> its figures, in its unit."""
    marks: MarksOfTheClass
    attention: list[str]
    """Students in order of rank."""
    not_marked: NotRequired[list[str]]
    """Criteria that the sheet has no room for."""
    findings: list[Finding]
    looked_for: list[Hypothesis]


Named = TypedDict("Named", {"class": ClassFigures})


@closed
class Results(Named):
    """A marked class titration as data."""

    format: Literal[1]
    made_by: Annotated[str, Field(pattern=r"^labmark [0-9]+\.[0-9]+")]
    practical: PracticalUsed
    source: Source
    cells: Cells
    reference: ClassReference | None
    students: list[Student]
    decisions: list[Decision]
    """What the teacher decided in marks.xlsx."""


class _Untitled(GenerateJsonSchema):
    """A schema whose keys have no titles: these would be the keys again."""

    def field_title_should_be_set(self, schema: Any) -> bool:
        """Return whether to give a key one."""
        return False


def schema() -> dict[str, Any]:
    """Return the JSON Schema of results.json."""
    head = {
        "$schema": GenerateJsonSchema.schema_dialect,
        "$id": "urn:labmark:results:1",
        "title": "results.json of labmark, format 1",
    }
    made = TypeAdapter(Results).json_schema(schema_generator=_Untitled)
    return head | {key: value for key, value in made.items() if key != "title"}
