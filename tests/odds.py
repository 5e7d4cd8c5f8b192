"""How often claims were right, by the odds that they carried: in ten bins, and of each finding where it is said surely.

Of few claims chance alone makes an error, and the share that was right is known to within an interval; both stand
beside the figures, so that nobody reads into them what is not there. Claims of one finding about one student, such as
all runs read upside down, are right or wrong together: for chance they are hardly more than one.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

SURE = 0.90
"""Odds from which on a sentence says "very probably"."""
BINS = 10
DRAWN = 400
"""How often claims are drawn as if their odds held."""
Claimed = tuple[float, bool]
"""(odds, right)"""


@dataclass
class Odds:
    """The odds of claims, and whether each was right, by finding; those about one student together."""

    of: defaultdict[str, list[list[Claimed]]] = field(default_factory=lambda: defaultdict(list))

    def add(self, finding: str, claims: Iterable[Claimed]) -> None:
        """Take in the claims of a finding about one student."""
        self.of[finding].append([*claims])

    def join(self, other: Odds) -> None:
        """Take in other claims."""
        for finding, students in other.of.items():
            self.of[finding] += students

    def __len__(self) -> int:
        return sum(len(claims) for students in self.of.values() for claims in students)

    def _all(self) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """Return what was said, whether it was right, the bin, and the number of the student, of every claim."""
        students = [claims for of_finding in self.of.values() for claims in of_finding]
        said, right = np.array([one for claims in students for one in claims]).reshape(-1, 2).T
        place = np.clip((said * BINS).astype(int), 0, BINS - 1)
        return said, right, place, np.repeat(np.arange(len(students)), [*map(len, students)])

    def bins(self) -> list[tuple[float, float, int]]:
        """Return (mean of what was said, share that was right, claims) for claims gathered by what was said."""
        said, right, place, _ = self._all()
        inside = (place == each for each in np.unique(place))
        return [(float(said[here].mean()), float(right[here].mean()), int(here.sum())) for here in inside]

    @property
    def error(self) -> float:
        """Expected calibration error."""
        return sum(n * abs(said - right) for said, right, n in self.bins()) / max(len(self), 1)

    def by_chance(self) -> tuple[float, float]:
        """Return what it would be if the odds held: on the average, and at most in nineteen cases of twenty."""
        said, _, place, student = self._all()
        if not said.size:
            return 0.0, 0.0
        drawn = np.random.default_rng(0).random((DRAWN, student[-1] + 1))[:, student] < said
        errors = np.abs((drawn - said) @ np.eye(BINS)[place]).sum(axis=1) / said.size
        return float(errors.mean()), float(np.quantile(errors, 0.95))

    @property
    def careful(self) -> float:
        """How much more often claims were right than they said; less than 0 where they said too much."""
        said, right, *_ = self._all()
        return float((right - said).mean()) if len(self) else 0.0

    def sure(self) -> list[tuple[str, float, float, int, float, float]]:
        """Return (finding, said, right, claims, from, to) of claims from SURE on; from, to: where the share lies (95 %)."""
        from scipy.stats import binomtest

        rows = []
        for finding, students in sorted(self.of.items()):
            top = [one for claims in students for one in claims if one[0] >= SURE]
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
        usual, most = self.by_chance()
        return (
            f"calibration error {self.error:.3f} ({usual:.3f} by chance, {most:.3f} at most; {self.careful:+.3f} careful)"
            f" of {len(self)}"
        )
