"""Does a class lie in two parts, with nobody between, although the class sheet says nothing of two bottles?

    sixteen results, eight about 25.30 and eight about 24.57 cm³, each part within 0.05 cm³      two parts
    sixteen results, five of them 0.15 to 1.40 cm³ above the others, who stopped late             one class

The gap must be many times the spread of either part. The reading alone spreads results, so that no part counts as
closer than that. Of classes of 8 to 28 without a second bottle, made by chance (normal, of long tails, spread evenly,
a third or a half of them past the endpoint by any amount), fewer than 1 in 100 come apart so. The rule is the project's
own.
"""

from math import ceil

import numpy as np

from labmark.analyse.arrays import BoolArray, FloatArray

FEWEST, SHARE = 4, 0.25
"""Each part holds at least so many results, and such a share of all."""
TIMES = 6.0
"""So many times the spread of either part the gap between them is."""
FAR = 0.30
"""Smallest gap, in cm³ of titre: six drops (common practice, no source)."""
READING = 0.03
"""Spread that reading a burette to 0.05 leaves anyhow, in cm³ of titre (common practice, no source)."""


def upper_part(results: FloatArray, cm3: float) -> BoolArray | None:
    """Return which results (n,) are in the upper of two parts; None where the class is one. Missing results are NaN.

    `cm3` is what 1 cm³ of titre is worth, in the unit of the results.
    """
    there = np.sort(results[np.isfinite(results)])
    least = max(FEWEST, ceil(SHARE * there.size))
    wide = np.flatnonzero(np.diff(there) >= FAR * cm3) + 1
    for place in wide[(least <= wide) & (wide <= there.size - least)]:
        lower, upper = there[:place], there[place:]
        spread = max(lower.std(ddof=1), upper.std(ddof=1), READING * cm3)
        if upper[0] - lower[-1] >= TIMES * spread:
            above: BoolArray = results >= upper[0]
            return above
    return None
