"""How likely the runs of some students are at each level, whatever happened to them: the tables looked up.

A run's mixture is what it may be if it is looked at by itself: as it should be, or touched by one of the mishaps of the
table. Where readings chain (`bench_links`), one misreading may have moved two runs; these pairs stand beside.
"""

import numpy as np

from labmark.diagnose.bench_course import two_levels, washed_out
from labmark.diagnose.bench_input import Flags, Floats, Ints
from labmark.diagnose.bench_links import TO_ZERO, WHOLE_SHARES, WHOLES
from labmark.diagnose.bench_misread import OF_HYPOTHESIS, VARIANT_SHARES, VARIANTS
from labmark.diagnose.bench_model import (
    EACH,
    EACH_ADDED,
    GOOD,
    KINDS,
    LATER,
    RATED,
    ROUGH,
    ROUGH_MISREAD,
    SCATTERED,
    STEP,
    WET_ROUGH,
    Tables,
)
from labmark.diagnose.bench_view import Places, View
from labmark.diagnose.hypotheses import COUNTED_FROM_BELOW, RUN_HYPOTHESES

HABIT_SLIP = 0.08
"""Share of runs of a student who reads upside down that fit no mirrored reading: then any run's mixture holds (common
practice, no source)."""
HABIT_WAYS = (("both", 0.65), ("final", 0.35))
"""Which readings are upside down where all runs are, and how often: an initial reading is often set, not read
(common practice, no source)."""
ROUGH_TOO = 0.75
"""Share of those who read upside down in all runs that do so in the rough as well (common practice, no source)."""
ROUGH_APART = 0.1
"""Share of roughs that lie about the class's level whatever spoilt the accurate runs: done before another pipette was
taken, say, or with another filling of the burette (common practice, no source)."""
CHANGED_ROUGH = 8.0
"""Roughs lie within as much of the later runs where something changed after them [cm³] (common practice, no source)."""
COPIED = 0.4
"""Of misreadings, those of the final reading that are then copied as the next initial one, where burettes are not
refilled; the others are misreadings of the initial one, or put right by looking again (common practice, no source)."""

FINER = 20.0
"""Swapped digits are so much likelier behind the one reading of a student that is finer than the interval kept to."""

ALL_ZERO = "initial readings taken as zero"
"""Shows in initial readings of 0.00 throughout, which of the others only those write who fill to the zero."""
MIRRORED = [h.shape for h in RUN_HYPOTHESES].index("mirrored")
MISREAD = [h.shape for h in RUN_HYPOTHESES].index("whole number")
CHAINED = [h.shape for h in RUN_HYPOTHESES].index("not refilled")
OF_ANOTHER = [h.shape for h in RUN_HYPOTHESES].index("another sample")
TURNED = tuple(dict.fromkeys(OF_HYPOTHESIS.tolist()))
"""Hypotheses that one of the ways to write a reading belongs to."""
IS_SWAPPED = np.array([RUN_HYPOTHESES[h].shape == "digits swapped" for h in OF_HYPOTHESIS])
COPIED_WAYS = tuple(
    (VARIANTS.index(which + how), VARIANTS.index("final" + how))
    for how in ("", " from below")
    for which in ("final", "both")
)
"""Ways to read a run upside down of which the next run copies the final reading, and the way of that reading alone."""


def _finer(view: View) -> Flags:
    """Return which run is the only one of its student with a reading between the intervals, (n, k)."""
    finer = view.single & ((view.low % view.unit > 0) | (view.high % view.unit > 0))
    return np.asarray(finer & (finer.sum(axis=1, keepdims=True) == 1) & (view.single.sum(axis=1, keepdims=True) > 2))


def _of_another(view: View) -> Floats:
    """Return the density of a titre that, as it was read, is that of some run before with another sample, (n, k)."""
    known, read = view.accurate & view.single, view.high - view.low
    before = known[:, :, None] & known[:, None, :] & np.tri(read.shape[1], k=-1, dtype=np.bool_)
    alike, apart = (np.abs(each[:, :, None] - each[:, None, :]) for each in (read, view.titre * STEP))
    same = (before & (alike <= view.unit) & (apart > 2 * view.unit)).sum(axis=2)
    return np.asarray(same / np.maximum(before.sum(axis=2), 1) / (3 * view.unit / 1000 * view.turned))


def _places(moved: Floats) -> Places:
    return np.asarray(np.rint(moved), dtype=np.int64)


class Runs:
    """Densities of every run at every level of a group of students, each (n, k, nodes)."""

    def __init__(self, view: View, tables: Tables, theta: Places, centre: Places, *, by_reading: bool = True) -> None:
        self.view, self.tables, self.theta, self.centre = view, tables, theta, centre
        self.is_turned = by_reading and bool((view.turned != 1).any())
        self.rates = tables.rate.T[view.kind]
        self.columns = self._looked_up()
        self.mix: Floats = np.matmul(self.columns[..., :RATED], self.rates[..., None])[..., 0]
        self.copied: Floats | None = None
        self.variants: Floats | None = None
        self.by_reading: dict[int, Floats] = {}
        """Rate times density of the hypotheses about the run that the readings themselves settle."""
        self.habits: list[Floats] = []
        self.habit_shares: list[Floats] = []
        if by_reading:
            self._look_at_readings()

    def _look_at_readings(self) -> None:
        """Add what misreadings of one reading, or of all, would have stood for."""
        view, rate = self.view, self.tables.rate[:, LATER]
        self.variants = self.good(view.meant)
        finer = np.where(_finer(view)[..., None] & IS_SWAPPED, FINER, 1.0)
        self.variant_shares = VARIANT_SHARES * finer * view.links.ways
        misread = [MISREAD, ROUGH_MISREAD]
        plain = (self.columns[..., misread] * self.rates[:, :, None, misread]).sum(axis=3)
        self.mix -= plain
        self.by_reading[MISREAD] = self._whole_numbers(plain) * self._beside()
        self.by_reading[CHAINED] = (rate[CHAINED] * view.can_chain)[..., None] * self.good(view.chained)
        for h in TURNED:
            of_it = (rate[h] * view.accurate)[..., None] * self.variant_shares * (h == OF_HYPOTHESIS)
            self.by_reading[h] = np.matmul(of_it[:, :, None], self.variants)[:, :, 0]
        if self.is_turned:
            self.by_reading[OF_ANOTHER] = rate[OF_ANOTHER] * _of_another(view)[..., None]
        self.mix = sum(self.by_reading.values(), start=self.mix)
        self.copied = self._copied() if view.links.copied.any() else None
        self.habits, self.habit_shares = self._habits(self.variants)

    def _at(self, titre: Places, level: Places, interval: Ints) -> Places:
        """Return where each distance between titres and levels stands in the tables, with a last axis over levels."""
        reach, each = np.int64(self.tables.centre), [1] * (titre.ndim - 1)
        away = (titre + reach)[..., None] - level.reshape(len(level), *each, level.shape[1])
        np.maximum(away, np.int64(0), out=away)
        np.minimum(away, 2 * reach, out=away)
        away += (interval * self.tables.width).reshape(interval.size, *each, 1)
        return np.asarray(away)

    def _looked_up(self) -> Floats:
        """Return the densities of the runs in every column, (n, k, nodes, columns); roughs may lie about the class's
        level."""
        flat = self.tables.density.reshape(-1, self.tables.density.shape[2])
        out = flat.take(self._at(self.view.titre, self.theta, self.view.interval), axis=0)
        i, k = np.nonzero(self.view.kind == ROUGH)
        at = self._at(self.view.titre[i, k], self.centre[i, None], self.view.interval[i])
        apart = flat.take(at, axis=0)[..., :RATED]
        out[i, k, :, :RATED] = (1 - ROUGH_APART) * out[i, k, :, :RATED] + ROUGH_APART * apart
        return np.asarray(out)

    def good(self, titre: Places) -> Floats:
        """Return the density of good runs with these titres, with a last axis over the levels."""
        return np.asarray(self.tables.good.reshape(-1).take(self._at(titre, self.theta, self.view.interval)))

    def _any(self, titre: Places, i: Ints, k: Ints) -> Floats:
        """Return the mixture of the runs at places i, k with these titres, with a last axis over the levels."""
        at = self._at(titre, self.theta[i], self.view.interval[i]) * KINDS
        kind = self.view.kind[i, k].reshape(i.size, *[1] * (at.ndim - 1))
        return np.asarray(self.tables.mix.reshape(-1).take(at + kind))

    def _whole_numbers(self, plain: Floats) -> Floats:
        """Return rate times density of a misread whole number: 1 cm³ on the burette may be more or less in a titre."""
        if not self.is_turned:
            return plain
        out = _places(WHOLES * 1000 / STEP * self.view.turned[..., None])
        density = WHOLE_SHARES @ self.good(self.view.titre[..., None] - out)
        return np.where(self.view.accurate[..., None], self.tables.rate[MISREAD, LATER] * density, plain)

    def _beside(self) -> Floats:
        """Return the factor on a misread whole number that the readings beside it are worth."""
        away = (self.view.titre[..., None] - self.theta[:, None, :]) * (STEP / 1000)
        whole = np.rint(away / self.view.turned[..., None])
        # A rough lies anywhere: only a misreading by ten can be told there, and hardly to the nearest cm³.
        rough = np.where(np.abs(whole) > 5, np.sign(whole) * 10, 0)
        whole = np.where(self.view.kind[..., None] == ROUGH, rough, whole)
        place = np.full(whole.shape, WHOLES.size)
        for number, each in enumerate(WHOLES):
            place[whole == each] = number
        return np.take_along_axis(self.view.links.whole, place, axis=2)

    def _copied(self) -> Floats:
        """Return how much likelier it is that the final reading was misread and copied than that it was not.

        By a whole number, then in each way of COPIED_WAYS; of the run and the next, against their two mixtures:
        (n, k, 1 + ways, nodes).
        """
        view, rate = self.view, self.tables.rate[:, LATER]
        i, k = np.nonzero(view.links.copied)
        ways, finals = np.array(COPIED_WAYS).T
        whole = np.broadcast_to(WHOLES * 1000 / STEP, (i.size, WHOLES.size))
        titre, after, turned = view.titre[i, k, None], view.titre[i, k + 1, None], view.turned[i, k, None]
        moved = np.concatenate([whole, (titre - view.meant[i, k][:, finals]) / turned], axis=1)
        # The run with the titre that was meant, and the next one moved back by as much.
        meant = np.concatenate([titre - _places(whole * turned), view.meant[i, k][:, ways]], axis=1)
        both = self._any(meant, i, k) * self._any(after + _places(moved * view.turned[i, k + 1, None]), i, k + 1)
        shares = np.concatenate([rate[MISREAD] * WHOLE_SHARES, rate[MIRRORED] * VARIANT_SHARES[ways]])
        both *= COPIED * shares[:, None] / (self.mix[i, k] * self.mix[i, k + 1])[:, None]
        out = np.zeros((*view.titre.shape, 1 + len(COPIED_WAYS), self.theta.shape[1]))
        out[i, k, 0], out[i, k, 1:] = both[:, : WHOLES.size].sum(axis=1), both[:, WHOLES.size :]
        return out

    def _habits(self, variants: Floats) -> tuple[list[Floats], list[Floats]]:
        """Return, for each of HABIT_WAYS, the density of all runs, (n, nodes), and the share of each that is turned."""
        together, shares = [], []
        is_rough = self.view.kind == ROUGH
        i, k = np.nonzero(is_rough)
        for way, share in HABIT_WAYS:
            plain, below = VARIANTS.index(way), VARIANTS.index(f"{way} from below")
            fits = (1 - COUNTED_FROM_BELOW) * variants[:, :, plain] + COUNTED_FROM_BELOW * variants[:, :, below]
            turned = (1 - HABIT_SLIP) * fits
            turned[i, k] = ROUGH_TOO * self._any(self.view.meant[i, k, plain], i, k)
            density = turned + np.where(is_rough, 1 - ROUGH_TOO, HABIT_SLIP)[..., None] * self.mix
            together.append(share * self.together(density))
            # A titre that is the same either way shows nothing.
            changed = (self.view.meant[:, :, plain] != self.view.titre)[..., None]
            shares.append(np.where(changed, turned / density, 0.0))
        return together, shares

    def fading(self) -> Floats:
        """Return the density of all runs of a titrant that gets stronger from run to run, (n, nodes).

        The rough came before, and is the highest, or was done with another filling.
        """
        is_rough = (self.view.kind == ROUGH) & self.view.alive
        before = 0.5 * self.columns[..., WET_ROUGH] + 0.5 * self.mix
        rough = np.where(is_rough[..., None], before, 1.0).prod(axis=1)
        return np.asarray(rough * washed_out(self.view, self.tables, self.theta, self.centre))

    def changed(self) -> Floats:
        """Return the density of all runs where something changed between two of them, (n, nodes)."""
        is_rough = (self.view.kind == ROUGH) & self.view.alive
        rough = np.where(is_rough[..., None], 0.5 * self.mix + 0.5 / CHANGED_ROUGH, 1.0).prod(axis=1)
        return np.asarray(rough * two_levels(self.view, self.tables, self.theta, self.columns[..., GOOD]))

    def scattered(self, band: int) -> Floats:
        """Return the density of runs of scattered work."""
        return np.where(self.view.accurate[..., None], self.columns[..., SCATTERED + band], self.mix)

    def each_added(self, place: int) -> Floats:
        """Return the density of all runs, (n, nodes), where each is out by a volume of its own; `place` in EACH."""
        accurate = self.view.accurate
        together = self.together(np.where(accurate[..., None], self.columns[..., EACH_ADDED + place], self.mix))
        if EACH[place].name != ALL_ZERO:
            return together
        all_zero = (self.view.single & (self.view.low == 0) | ~accurate).all(axis=1)[:, None]
        return np.asarray(all_zero * together / TO_ZERO)

    def together(self, density: Floats) -> Floats:
        """Return the density of all of a student's runs at each level, (n, nodes)."""
        return np.asarray(np.where(self.view.alive[..., None], density, 1.0).prod(axis=1))

    def mishaps(self, weight: Floats) -> Floats:
        """Return what of a weight of each run and level goes to each hypothesis about the run, (n, k, hypotheses)."""
        rated = np.matmul(weight[:, :, None], self.columns[..., :RATED])[:, :, 0] * self.rates
        out = rated[:, :, : len(RUN_HYPOTHESES)]
        out[:, :, MISREAD] += rated[:, :, ROUGH_MISREAD]
        for h, density in self.by_reading.items():
            out[:, :, h] = (weight * density).sum(axis=2)
        return np.asarray(out)

    def ways(self, weight: Floats) -> Floats:
        """Return what of it goes to each way to write a reading, (n, k, ways)."""
        if self.variants is None:
            return np.zeros((*weight.shape[:2], len(VARIANTS)))
        found = np.matmul(self.variants, weight[..., None])[..., 0] * self.variant_shares
        return np.asarray(found * self.tables.rate[OF_HYPOTHESIS, LATER] * self.view.accurate[..., None])

    def good_runs(self, weight: Floats) -> Floats:
        """Return what of it goes to runs that are as they should be, (n, k, nodes)."""
        return np.asarray(weight * self.rates[..., GOOD, None] * self.columns[..., GOOD])
