"""Critical values of the screening tests, worked out rather than copied from tables.

Printed tables disagree (one-sided against two-sided, two decimals, misprints); these come from the distributions.

- Grubbs, one value: from Student's t (closed form).
- Grubbs, two at one end, and Dixon r10: by integrals, which take long. What they come to is kept here.
- Cochran, and Mandel's h and k: from F and t (closed form).
"""

from __future__ import annotations

from math import sqrt

from labmark.laws import t_quantile

FEWEST = 3
"""Fewest values of a test for one outlier."""

GRUBBS_PAIR = (
    *(0.0001938, 0.00897897, 0.0348679, 0.0708384, 0.110124, 0.149186, 0.186452, 0.221326, 0.253671, 0.283564),
    *(0.311167, 0.336672, 0.360274, 0.382158, 0.402492, 0.421428, 0.439103, 0.455635, 0.471132, 0.485689),
    *(0.499388, 0.512305, 0.524506, 0.536049, 0.546988, 0.55737, 0.567237, 0.576628, 0.585578, 0.594117),
    *(0.602275, 0.610076, 0.617545, 0.624703, 0.63157, 0.638163, 0.6445, 0.650595, 0.656463, 0.662116),
    *(0.667567, 0.672826, 0.677903, 0.682809, 0.687552, 0.692141, 0.696583, 0.700885, 0.705054, 0.709096),
    *(0.713018, 0.716824, 0.720521, 0.724112, 0.727603, 0.730997, 0.734299, 0.737513, 0.740642, 0.743689),
    *(0.746659, 0.749554, 0.752376, 0.755129, 0.757816, 0.760438, 0.762999, 0.765499, 0.767943, 0.770331),
    *(0.772665, 0.774948, 0.77718, 0.779365, 0.781503, 0.783595, 0.785644, 0.787651, 0.789617, 0.791543),
    *(0.793431, 0.795282, 0.797096, 0.798876, 0.800622, 0.802334, 0.804015, 0.805664, 0.807284, 0.808873),
    *(0.810435, 0.811969, 0.813475, 0.814956, 0.81641, 0.81784, 0.819246),
)
"""Critical SS(without two)/SS(all) at 5 % of the two largest, or the two smallest, of 4, 5, ... 100 values: half of it
for either end, as in ISO 5725-2:1994, Table 5. Smaller ratios are the more surprising.

By recursion: without the largest value a normal sample of n is one of n − 1, and how far its own largest lies out does
not depend on the one taken away, so that one integral a value gives the law (at 3,201 places, which is good to 1e-6).
"""

DIXON = (
    *(0.970213, 0.82975, 0.710239, 0.627511, 0.568952, 0.525602, 0.492195, 0.465594, 0.443843, 0.425673),
    *(0.410223, 0.396891, 0.385242, 0.374957, 0.365792, 0.35756, 0.350114, 0.343338, 0.337137, 0.331435),
    *(0.326169, 0.321285, 0.31674, 0.312497, 0.308522, 0.30479, 0.301275, 0.297958),
)
"""Critical r10 = gap/range at 5 % of one outlier at either end of 3, 4, ... 30 values, as far as published tables go
(Rorabacher 1991, Anal. Chem. 63, 139; from memory).

P(r10 > R) at one end = n(n − 1) ∫∫ φ(x) φ(x − v) [Φ(x − Rv) − Φ(x − v)]^(n−2) dv dx, doubled for both ends, which is
exact where R > 1/2 and on the safe side below (Dixon 1951, Ann. Math. Stat. 22, 68).
"""


def grubbs(n: int, alpha: float = 0.05, sides: int = 2) -> float:
    """Return the critical G = |x − mean|/s of one outlier among n ≥ 3.

    G = (n − 1)/√n × sqrt(t²/(n − 2 + t²)), t the upper α/(sides × n) point with n − 2 degrees of freedom.
    Two sides where either end may be out (the columns of ISO 5725-2, Table 5); one where the end was named before.
    """
    t = float(t_quantile(1 - alpha / (sides * n), n - 2))
    return (n - 1) / sqrt(n) * sqrt(t**2 / (n - 2 + t**2))


def cochran(p: int, n: float, alpha: float = 0.05) -> float:
    """Return the critical largest variance/sum of p variances, of n values each.

    C = F/(F + p − 1), F the upper α/p point with n − 1 and (n − 1)(p − 1) degrees of freedom.
    """
    f = _f_quantile(1 - alpha / p, n - 1, (n - 1) * (p - 1))
    return f / (f + p - 1)


def mandel_h(p: int, alpha: float = 0.05) -> float:
    """Return the indicator for |h| among p ≥ 3 students: (p − 1)t/sqrt(p(t² + p − 2)), t two-sided with p − 2 df."""
    t = float(t_quantile(1 - alpha / 2, p - 2))
    return (p - 1) * t / sqrt(p * (t**2 + p - 2))


def mandel_k(p: int, n: float, alpha: float = 0.05) -> float:
    """Return the indicator for k, p ≥ 2 students of n runs: sqrt(p/(1 + (p − 1)/F)), n − 1 and (p − 1)(n − 1) df."""
    f = _f_quantile(1 - alpha, n - 1, (p - 1) * (n - 1))
    return sqrt(p / (1 + (p - 1) / f))


def _f_quantile(probability: float, top: float, bottom: float) -> float:
    """Return the quantile of the F law."""
    from scipy.special import fdtri

    return float(fdtri(top, bottom, probability))
