"""What the diagnosis looks at: the readings of a class as padded matrices, and the bench they were taken at."""

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from labmark.dataclass import dataclass

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.floating[Any]]
Flags = npt.NDArray[np.bool_]

MARK = 1000
"""Distance between two numbered marks of a burette [µL]."""


@dataclass(frozen=True, slots=True)
class RunMatrix:
    """Readings of n students with up to k runs each, padded; runs stand in the order in which they were done.

    Volumes are whole microlitres. Where a flag is False the numbers beside it mean nothing.
    """

    initial: Ints
    """Initial readings, (n, k) [µL]."""
    final: Ints
    """Final readings, (n, k) [µL]."""
    titre: Ints
    """Titres from the readings, reversed readings put right and the parts of a refilled run added up, (n, k) [µL]."""
    present: Flags
    """A run stands here, (n, k)."""
    usable: Flags
    """Its titre may be judged: both readings there, nothing plainly wrong with them, (n, k)."""
    rough: Flags
    """It is a rough run, (n, k)."""
    expected: Floats
    """Titre that the reference gives for this student, (n,) [cm³]; NaN where there is no reference."""
    expected_uncertainty: Floats
    """Its standard uncertainty, (n,) [cm³]; NaN is taken as 0."""
    read: Ints
    """Titres as they were read: `titre` before it was turned to the numbers of all runs, where it was, (n, k) [µL]."""

    @property
    def accurate(self) -> Flags:
        """Runs that may be judged and are not rough, (n, k)."""
        return self.present & self.usable & ~self.rough

    def rows(self, which: Any) -> "RunMatrix":
        """Return the students that `which` (a slice, indices or flags) picks out."""
        return RunMatrix(*(getattr(self, name)[which] for name in self.__slots__))


@dataclass(frozen=True, slots=True)
class BenchSetting:
    """The bench that the readings come from."""

    capacity: float = 50.0
    """Capacity of the burette [cm³]."""
    division: float = 0.1
    """Its smallest division [cm³]; readings are expected to half of it."""
    aliquot: float | None = 25.0
    """Volume the pipette should deliver [cm³]; None where the sample is weighed: other pipettes play no part then."""
    own_aliquots: tuple[tuple[float, float], ...] | None = None
    """Where pipettes are the students' own: (expected titre, pipette said to be used) [cm³], for those whose aliquot is
    that of a pipette; None where one is for all."""
    within: float = 0.10
    """Largest spread of a concordant set, inclusive [cm³]."""
    blank_titre: float | None = None
    """Titre without any sample, in a back titration [cm³]: more sample then means a smaller titre. None elsewhere."""
    reference_doubtful: bool = False
    """The class agrees with itself and not with the reference: students are held against the class's centre."""

    def pipettes(self, expected: Sequence[float]) -> list[float | None]:
        """Return the volumes [cm³] that the pipettes of students should deliver, whose expected titres are these."""
        own = dict(self.own_aliquots or ())
        return [self.aliquot if self.own_aliquots is None else own.get(titre) for titre in expected]
