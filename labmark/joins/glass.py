"""The glassware of a practical with its tolerances, and what had to be assumed of it."""

from __future__ import annotations

from dataclasses import dataclass

from labmark.analyse.chemistry import unknown_dilution
from labmark.practical import Practical
from labmark.practical.glassware import Glass, burette_of, flask_of, pipette_of


@dataclass(frozen=True)
class Glasses:
    """Every piece of glass that a result rests on."""

    burette: Glass
    pipette: Glass
    dilution_pipette: Glass | None = None
    dilution_flask: Glass | None = None
    sample_flask: Glass | None = None
    sample_pipette: Glass | None = None
    """That measured the sample of a back titration, where the sample itself is treated."""
    excess_pipette: Glass | None = None
    """That measured the reagent in excess of a back titration, where it is not the pipette of the flask."""
    mixture_flask: Glass | None = None
    """That the mixture of a back titration was made up in."""

    @property
    def named(self) -> tuple[tuple[str, Glass], ...]:
        """Return the pieces with their names, those that there are."""
        pieces = (
            ("burette", self.burette),
            ("pipette", self.pipette),
            ("pipette of the dilution", self.dilution_pipette),
            ("volumetric flask of the dilution", self.dilution_flask),
            ("volumetric flask of the sample", self.sample_flask),
            ("pipette of the sample", self.sample_pipette),
            ("pipette of the reagent in excess", self.excess_pipette),
            ("volumetric flask of the mixture", self.mixture_flask),
        )
        return tuple((name, glass) for name, glass in pieces if glass is not None)


def glasses(practical: Practical) -> Glasses:
    """Return the glassware of a practical, each piece with the tolerance given, or that of its class."""
    given = practical.file
    dilution = unknown_dilution(practical) if given.result.report_original else None
    sample, excess = given.sample, given.excess
    made = sample.made_up_to if sample is not None and practical.needs_sample else None
    measured = sample.volume if sample is not None else None
    mixture = excess.made_up_to if excess is not None else None
    # Where all of the mixture is titrated, the pipette of the flask is that of the reagent.
    apart = practical.back is not None and not practical.back.undivided
    return Glasses(
        burette_of(given.burette, given.burette.glass_class, given.burette.tolerance),
        pipette_of(given.flask.aliquot, given.flask.glass_class, given.flask.tolerance),
        None if dilution is None else pipette_of(dilution.taken, dilution.glass_class, dilution.tolerance),
        None if dilution is None else flask_of(dilution.made_up_to, dilution.glass_class, dilution.flask_tolerance),
        None if made is None else flask_of(made, "B"),
        None if sample is None or measured is None else pipette_of(measured, sample.glass_class, sample.tolerance),
        pipette_of(excess.volume, excess.glass_class, excess.tolerance) if excess is not None and apart else None,
        None if excess is None or mixture is None else flask_of(mixture, excess.glass_class, excess.flask_tolerance),
    )
