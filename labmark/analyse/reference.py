"""Is the reference in doubt? A class that agrees with itself, but not with the value it is held against.

When 24 students agree within a per cent and all lie 4 % above the reference, the reference (label, standardisation,
dilution) is a likelier culprit than 24 students. Three things must hold before it is put in question:

1. the shift is real: its whole confidence interval lies beyond what technique explains;
2. it is more than technique: all stopping up to three drops late (+ 0.15 cm³ of titre) or a drop early (− 0.05 cm³)
   is a habit that a demonstration teaches, and says nothing about the bottle;
3. the class agrees with itself: most students lie on the same side of the reference.

    24 results, robust mean 0.1052, s* 0.0010, reference 0.1012 with u 0.0002, expected titre 24.70 cm³: shift + 4.0 %,
    that is + 0.98 cm³; 23 of 24 lie above; interval + 0.76 to + 1.19 cm³, all of it beyond + 0.15 cm³: in doubt

It is a question to ask, not a verdict: `CHECKS` says what to look at. Marks are the scheme's, and the teacher's.
"""

from math import hypot, isfinite
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from labmark.analyse.arrays import floats
from labmark.analyse.robust import RobustEstimate, algorithm_a
from labmark.laws import t_quantile

TECHNIQUE_ABOVE = 0.15
"""Largest upward shift of the titre [cm³] that habit explains: three drops late (common practice, no source)."""

TECHNIQUE_BELOW = 0.05
"""Largest downward shift [cm³] that habit explains: a drop early (common practice, no source)."""

LEVEL = 0.99
"""Level of confidence of the interval for the shift: an unfounded doubt costs the technician an afternoon."""

SAME_SIDE = 0.70
"""Share of the students who must lie on the shift's side of the reference for the class to agree with itself."""

FEWEST = 3
"""Fewest results that may put a reference in doubt. That few agree by chance the interval allows for: of simulated
classes of three and four with a right reference and now and then a fault 0.3 % at most doubt it, and of those held
against one that is 2 cm³ of titre off at least half."""

CHECKS = (
    "standardise the solution again",
    "compare the label with the technician’s notes",
    "check the dilution and the mole ratio in the practical file",
    "check that the reference is of the same solution, undiluted or diluted, as the result",
)
"""What to look at, in order."""

Verdict = Literal["doubtful", "technique", "agrees", "scattered", "too few"]


class ReferenceTest(NamedTuple):
    """The class held against its reference. Figures in the unit of the result unless they say otherwise."""

    verdict: Verdict
    """"doubtful": put it in question. "technique": a shift that a drop or three may explain. "agrees": the class and
    the reference are consistent. "scattered": a shift, but the class does not agree with itself. "too few" results."""
    reference: float
    reference_uncertainty: float
    robust_mean: float
    robust_sd: float
    results: int
    shift: float
    """Robust mean less reference."""
    shift_percent: float
    shift_uncertainty: float
    """Standard uncertainty of the shift: that of the robust mean and that of the reference."""
    statistic: float
    """Shift over its uncertainty."""
    dof: int
    shift_titre: float
    """The shift in cm³ of titre; positive means larger titres than the reference gives."""
    low_titre: float
    """Lower end of its confidence interval [cm³]."""
    high_titre: float
    same_side: int
    """How many students lie on the shift's side of the reference."""
    direction: Literal["above", "below"]
    """Side of the reference that the results lie on."""
    technique_low: float = -TECHNIQUE_BELOW
    """Shifts of the titre from here [cm³] ..."""
    technique_high: float = TECHNIQUE_ABOVE
    """... to here are put down to technique."""
    level: float = LEVEL

    @property
    def doubtful(self) -> bool:
        """True means that the reference is to be put in question."""
        return self.verdict == "doubtful"


def reference_test(
    results: ArrayLike, reference: float, reference_uncertainty: float, expected_titre: float, exponent: float = 1.0
) -> ReferenceTest:
    """Return whether a class's results put the reference in doubt.

    Parameters: `results`, one a student (missing ones NaN), and `reference` in the same unit, not 0, with its standard
    uncertainty (0 where not stated); `expected_titre` [cm³], that the reference gives; `exponent`, the power of the
    titre in the result (1: titrant is the standard; −1: it is the unknown), or the relative sensitivity there.
    Where students have different references (bottle by bottle), give results ÷ own reference, and reference 1.

    The interval is shift ± t × sqrt(u(x*)² + u_ref²), u(x*) = 1.25 s*/sqrt(p) (ISO 13528:2022, 7.7.3), p − 1 df.
    """
    array = floats(results)
    array = array[np.isfinite(array)]
    fit = algorithm_a(array)
    shift = fit.mean - reference
    u, reach = _uncertainty(fit, reference_uncertainty)
    scale = expected_titre / (reference * exponent)
    low, high = sorted(((shift - reach) * scale, (shift + reach) * scale))
    same = int(np.count_nonzero((array - reference) * shift > 0))
    return ReferenceTest(
        _verdict(fit, low, high, same),
        reference,
        reference_uncertainty,
        fit.mean,
        fit.sd,
        fit.n,
        shift,
        100 * shift / reference,
        u,
        shift / u if u > 0 else float(np.copysign(np.inf, shift)) if shift else 0.0,
        max(fit.n - 1, 1),
        shift * scale,
        low,
        high,
        same,
        "above" if shift > 0 else "below",
    )


def _uncertainty(fit: RobustEstimate, of_reference: float) -> tuple[float, float]:
    """Return the standard uncertainty of a shift, and how far its interval reaches."""
    of_class = fit.standard_uncertainty if fit.n > 1 else 0.0
    # The factor for few results belongs to the class's part of u alone: the reference's u is taken as known.
    t, normal = (float(t_quantile(0.5 + LEVEL / 2, freedom)) for freedom in (max(fit.n - 1, 1), np.inf))
    return hypot(of_class, of_reference), hypot(t * of_class, normal * of_reference)


def _verdict(fit: RobustEstimate, low: float, high: float, same: int) -> Verdict:
    """Return what an interval for the shift of the titre, and the students' sides, come to."""
    if fit.n < FEWEST or not isfinite(fit.sd):
        return "too few"
    if low <= 0 <= high:
        return "agrees"
    if high >= -TECHNIQUE_BELOW and low <= TECHNIQUE_ABOVE:
        return "technique"
    return "doubtful" if same >= SAME_SIDE * fit.n else "scattered"
