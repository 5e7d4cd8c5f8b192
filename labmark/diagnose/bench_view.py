"""The readings of a class made ready for the tables: titres on their lattice, and what a misreading would stand for."""

import numpy as np
import numpy.typing as npt

from labmark.dataclass import dataclass, replace
from labmark.diagnose.bench_input import BenchSetting, Flags, Floats, Ints, RunMatrix
from labmark.diagnose.bench_links import Links, links
from labmark.diagnose.bench_misread import meant
from labmark.diagnose.bench_model import FIRST, LATER, READING_STEPS, ROUGH, STEP

Places = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class View:
    """A class on the lattice of the tables (10 µL)."""

    titre: Places
    """(n, k)"""
    alive: Flags
    """Runs that take part: accurate or rough, and usable, (n, k)."""
    accurate: Flags
    """(n, k)"""
    kind: Ints
    """FIRST, LATER or ROUGH, (n, k)."""
    interval: Ints
    """Which reading interval of the tables the student keeps to, (n,)."""
    meant: Places
    """Titre if a reading was written in another way, (n, k, ways)."""
    chained: Places
    """Titre if the burette was not refilled before an initial reading of 0.00, (n, k)."""
    can_chain: Flags
    """The readings allow that, (n, k)."""
    expected: Floats
    """Expected titre [cm³], never NaN, (n,)."""
    low: Ints
    """Initial reading, reversed ones put right, (n, k) [µL]."""
    high: Ints
    """Final reading, likewise, (n, k) [µL]."""
    single: Flags
    """The run is usable and its titre is the difference of these two readings, (n, k)."""
    turned: Floats
    """What 1 cm³ on the burette comes to in the titre: 1 but where it is turned to the numbers of all runs, (n, k)."""
    unit: int
    """Reading interval expected [µL]."""
    capacity: float
    """Of the burette [cm³]."""
    links: Links
    """What readings that chain say about misreadings of one of them."""

    def rows(self, which: slice | npt.NDArray[np.intp]) -> "View":
        """Return the students that `which` picks out."""
        tables = [name for name in self.__slots__ if isinstance(getattr(self, name), np.ndarray)]
        links = Links._make(each[which] for each in self.links)
        return replace(self, links=links, **{name: getattr(self, name)[which] for name in tables})


def interval_kept(runs: RunMatrix, unit: int) -> Ints:
    """Return which of READING_STEPS (in `unit` [µL]) a student keeps to: the widest that all readings are whole in.

    Of fewer than four readings that says nothing.
    """
    live = runs.present & runs.usable
    found = np.zeros(live.shape[0], dtype=np.int64)
    for place, step in enumerate(READING_STEPS):
        whole = (runs.initial % (unit * step) == 0) & (runs.final % (unit * step) == 0)
        found[(whole | ~live).all(axis=1) & (live.sum(axis=1) > 1)] = place
    return found


def _chained(runs: RunMatrix, low: Ints, high: Ints, capacity: float) -> tuple[Ints, Flags]:
    """Return the titre counted from the final reading before, and where an initial 0.00 may hide that."""
    before = np.zeros_like(high)
    before[:, 1:] = high[:, :-1]
    has_before = np.zeros_like(runs.present)
    has_before[:, 1:] = (runs.present & runs.usable)[:, :-1]
    return high - before, has_before & (low == 0) & (high > before) & (high <= capacity * 1000)


def class_centre(runs: RunMatrix) -> float:
    """Return the median over students of their median accurate titre [cm³]; NaN where there is none."""
    levels = student_levels(runs)
    known = levels[~np.isnan(levels)]
    return float(np.median(known)) if known.size else float("nan")


def expected_titres(runs: RunMatrix) -> Floats:
    """Return the expected titres [cm³], (n,): the class's centre for students without a reference."""
    return np.where(np.isfinite(runs.expected) & (runs.expected > 0), runs.expected, class_centre(runs))


def student_levels(runs: RunMatrix) -> Floats:
    """Return each student's median accurate titre [cm³], (n,); NaN where there is none."""
    order = np.sort(np.where(runs.accurate, runs.titre / 1000, np.inf), axis=1)
    count = runs.accurate.sum(axis=1)
    rows = np.arange(count.size)
    upper = order[rows, np.clip(count // 2, 0, order.shape[1] - 1)]
    lower = order[rows, np.clip((count - 1) // 2, 0, order.shape[1] - 1)]
    with np.errstate(invalid="ignore"):
        return np.where(count > 0, (upper + lower) / 2, np.nan)


def look(runs: RunMatrix, setting: BenchSetting) -> View:
    """Return the class made ready."""
    low, high = np.minimum(runs.initial, runs.final), np.maximum(runs.initial, runs.final)
    single = (high - low == runs.read) & runs.present & runs.usable
    unit = max(1, round(setting.division * 500))
    turned = np.where((runs.read > 0) & (runs.titre > 0), runs.titre / np.maximum(runs.read, 1), 1.0)
    otherwise = meant(low, high, unit, 1000 * setting.capacity) - (high - low)[..., None]
    stands_for = runs.titre[..., None] + np.where(single[..., None], otherwise * turned[..., None], 0.0)
    chained, can_chain = _chained(runs, low, high, setting.capacity)
    accurate = runs.accurate
    first = accurate & (np.cumsum(accurate, axis=1) == 1)
    kind = np.where(runs.rough, ROUGH, np.where(first, FIRST, LATER))
    return View(
        _places(runs.titre), runs.present & runs.usable, accurate, kind, interval_kept(runs, unit),
        _places(stands_for), _places(runs.titre + (chained - (high - low)) * turned), can_chain & single & accurate,
        expected_titres(runs), low, high, single, turned, unit, setting.capacity,
        links(low, high, single, unit, 1000 * setting.capacity),
    )  # fmt: skip


def _places(volume: Ints | Floats) -> Places:
    """Return volumes [µL] on the lattice of the tables."""
    return np.asarray(np.rint(volume / STEP), dtype=np.int64)
