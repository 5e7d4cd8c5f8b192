"""How often claims were right, by the odds that they carried: in ten bins, and of each finding where it is said surely.

Of few claims chance alone makes an error, and the share that was right is known to within an interval; both stand
beside the figures, so that nobody reads into them what is not there.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

import numpy as np
from scipy.stats import binomtest

SURE = 0.90
"""Odds from which on a sentence says "very probably"."""
BINS = 10


@dataclass
class Odds:
    """The odds of claims, and whether each was right, by finding."""

    of: defaultdict[str, list[tuple[float, bool]]] = field(default_factory=lambda: defaultdict(list))

    def add(self, finding: str, probability: float, right: bool) -> None:
        self.of[finding].append((probability, right))

    def join(self, other: Odds) -> None:
        """Take in other claims."""
        for finding, odds in other.of.items():
            self.of[finding] += odds

    def __len__(self) -> int:
        return sum(map(len, self.of.values()))

    def _all(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Return what was said, whether it was right, and the bin, of every claim."""
        said, right = np.array([one for odds in self.of.values() for one in odds]).reshape(-1, 2).T
        return said, right, np.clip((said * BINS).astype(int), 0, BINS - 1)

    def bins(self) -> list[tuple[float, float, int]]:
        """Return (mean of what was said, share that was right, claims) for claims gathered by what was said."""
        said, right, place = self._all()
        inside = (place == each for each in np.unique(place))
        return [(float(said[here].mean()), float(right[here].mean()), int(here.sum())) for here in inside]

    @property
    def error(self) -> float:
        """Expected calibration error."""
        return sum(n * abs(said - right) for said, right, n in self.bins()) / max(len(self), 1)

    @property
    def by_chance(self) -> float:
        """What it would be about if the odds held: of n claims in a bin √(2 ÷ π) standard deviations of their sum."""
        said, _, place = self._all()
        variances = np.bincount(place, said * (1 - said))
        return float(np.sqrt(2 / np.pi * variances).sum() / max(len(self), 1))

    @property
    def careful(self) -> float:
        """How much more often claims were right than they said; less than 0 where they said too much."""
        said, right, _ = self._all()
        return float((right - said).mean()) if len(self) else 0.0

    def sure(self) -> list[tuple[str, float, float, int, float, float]]:
        """Return (finding, said, right, claims, from, to) of claims from SURE on; from, to: where the share lies (95 %)."""
        rows = []
        for finding, odds in sorted(self.of.items()):
            top = [one for one in odds if one[0] >= SURE]
            if top:
                said, right = np.mean(top, axis=0).tolist()
                within = binomtest(sum(was for _, was in top), len(top)).proportion_ci(method="wilson")
                rows.append((finding, said, right, len(top), float(within.low), float(within.high)))
        return rows

    def show(self) -> None:
        """Print how often claims were right by their odds, and each finding's from SURE on."""
        print("probability   right  claims")
        for said, right, n in self.bins():
            bar = "#" * round(40 * right)
            print(f"{said:11.2f} {right:7.2f} {n:7d}  {bar}{' ' * (40 - len(bar))}| said {'.' * round(40 * said)}")
        for finding, said, right, n, low, high in self.sure():
            print(
                f"    {finding:20s} from {SURE:.2f} on said {said:.2f} right {right:.2f} ({low:.2f} to {high:.2f}) of {n}"
            )

    def __str__(self) -> str:
        return (
            f"calibration error {self.error:.3f} ({self.by_chance:.3f} by chance, {self.careful:+.3f} careful)"
            f" of {len(self)}"
        )
