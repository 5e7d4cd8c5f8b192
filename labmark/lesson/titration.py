"""The titration behind a practical in amounts: what is in the flask and in the burette, and the curve of it."""

from collections.abc import Iterable, Mapping
from fractions import Fraction
from itertools import accumulate
from typing import Any, NamedTuple

import numpy as np

from labmark.lesson.constants import Acid, acid_of, edta_complex, indicator_named, table
from labmark.lesson.curve import Curve, Solute, acid_base, complexation, conditional
from labmark.meaning import Example, references_of, titres_of
from labmark.practical import Practical
from labmark.practical.equation import Species
from labmark.practical.inputs import TITRE

DISSOLVED_IN = 50.0
"""Water that a standard weighed into the flask is taken to be dissolved in [cm³]; common practice, no source."""
UNADJUSTED = "Worked out with concentrations in place of activities, at 25 °C, without any water added to the flask."


class Titration(NamedTuple):
    """One titration of a practical at its expected titre."""

    example: Example
    titrant: Species
    analyte: Species
    """What the titrant reacts with; in a back titration the reagent that was left."""
    run_in: float
    """Titre, less the blank [cm³]."""
    titrant_concentration: float | None
    """[mol/dm³]; None where nothing says it."""
    analyte_amount: float | None
    """In one flask [mmol]."""
    flask: float
    """Volume in the flask before any titrant [cm³]."""
    amounts: Mapping[str, Any]
    """What every step of the working comes to."""


def titration_of(example: Example) -> Titration:
    """Return the titration of a practical at one titre."""
    practical, back = example.practical, example.practical.back
    amounts = example.formula.values({TITRE: example.exact})
    blank = float(practical.file.blank.titre) if practical.file.blank is not None and back is None else 0.0
    run_in = float(example.exact) - blank
    in_burette, in_flask = (practical.known, "n.known"), (practical.unknown, "n.unknown")
    if back is not None:
        in_burette, in_flask = (practical.known, "n.titrant"), (back.reagent, "n.left")
    elif practical.known_in == "flask":
        in_burette, in_flask = in_flask, in_burette
    (titrant, of_titrant), (analyte, of_analyte) = in_burette, in_flask
    ratio = float(amounts[of_analyte] / amounts[of_titrant])
    strength: float | None = float(practical.known_concentration)
    if practical.known_in == "flask":
        # Where each student has their own, only a reference says how much is in the flask.
        known = references_of(practical) or not {"sample.mass", "flask.concentration"} & {*example.own}
        strength = 1000 * float(amounts[of_titrant]) / run_in if known else None
    amount = None if strength is None else strength * run_in * ratio
    return Titration(example, titrant, analyte, run_in, strength, amount, _volume(example), amounts)


def _volume(example: Example) -> float:
    file, back = example.practical.file, example.practical.back
    aliquot = float(file.flask.aliquot) if file.flask.aliquot is not None else DISSOLVED_IN
    beside = file.excess.volume if file.excess is not None and back is not None and not back.whole else None
    return aliquot + float(beside or 0)


def curve_of(titration: Titration) -> Curve | None:
    """Return the curve; None where it is of neither acids and bases nor EDTA, is a chain, or lacks amounts."""
    practical = titration.example.practical
    strength, amount = titration.titrant_concentration, titration.analyte_amount
    if strength is None or amount is None or practical.equation.parts:
        return None
    log_k = edta_complex(titration.analyte)
    titrant = acid_of(titration.titrant, practical)
    if log_k is not None and titrant is not None and titrant.name == "EDTA":
        log_conditional = conditional(log_k, titrant.pka, buffer_ph(practical.file.indicator))
        quantity = f"p{titration.analyte.formula}"
        in_flask = amount / titration.flask
        return complexation(in_flask, titration.flask, strength, log_conditional, titration.run_in, quantity)
    flask = _in_flask(titration, titrant)
    if titrant is None or titrant.name == "EDTA" or not flask:
        return None
    run_in = _solutes([(titrant, strength)], 1.0)
    return acid_base(_solutes(flask, titration.flask), titration.flask, run_in, titration.run_in)


def _solutes(acids: Iterable[tuple[Acid, float]], volume: float) -> list[Solute]:
    """Return acids and bases [mmol] in a volume [cm³] as they are in solution."""
    return [Solute(acid.times * amount / volume, acid.pka, acid.lost) for acid, amount in acids]


def curves_to_endpoints(practical: Practical) -> tuple[list[Curve], list[Acid]]:
    """Return the curve of a run of acids and bases as seen from each endpoint, and what is in it; or nothing."""
    part, titres = practical.parts[0], titres_of(practical)
    series, titrant = part.series, acid_of(part.known, practical)
    volumes = [float(titre) for _, titre in sorted(titres.items()) if titre is not None]
    found = [acid_of(each.unknown, practical) for each in series.found] if series.endpoints else []
    acids = [each for each in found if each is not None]
    if titrant is None or not (len(acids) == len(volumes) == len(series.names)):
        return [], []
    uses = [[float(dict(line).get(each.unknown, 0)) for each in series.found] for line in series.lines]
    strength, volume = float(part.known_concentration), float(practical.file.flask.aliquot or DISSOLVED_IN)
    amounts = np.linalg.solve(uses, [strength * each for each in volumes]).tolist()
    flask, run_in = _solutes(zip(acids, amounts, strict=True), volume), _solutes([(titrant, strength)], 1.0)
    return [acid_base(flask, volume, run_in, each) for each in accumulate(volumes)], [*acids, titrant]


def acids_of(titration: Titration) -> list[Acid]:
    """Return the acids and bases in the flask, and the titrant where it is one."""
    titrant = acid_of(titration.titrant, titration.example.practical)
    return [*(acid for acid, _ in _in_flask(titration, titrant)), *([titrant] if titrant else [])]


def constants_of(acids: Iterable[Acid], titration: Titration | None) -> list[str]:
    """Return the constants behind the curve, each with its source."""
    told = [
        f"{acid.name}, pKa {' and '.join(f'{each:.2f}' for each in acid.pka)} ({acid.source})"
        for acid in acids
        if acid.pka
    ]
    log_k = edta_complex(titration.analyte) if titration else None
    if titration and log_k is not None:
        told.append(f"log K of {titration.analyte.shown} with EDTA {log_k} ({table('acids')['edta']['source']})")
    return list(dict.fromkeys(told))


def buffer_ph(indicator: str) -> float:
    """Return the pH that a titration with EDTA is buffered at, by its indicator; 10 where none tells."""
    row = indicator_named(indicator, table("indicators")["metal_indicator"])
    return float(row["ph"]) if row else 10.0


def _in_flask(titration: Titration, titrant: Acid | None) -> list[tuple[Acid, float]]:
    """Return the acids and bases in the flask before any titrant [mmol]; none where the analyte is no acid or base.

    Of a back titration what the reagent has made of the sample is there too, but for carbon dioxide: it has gone.
    """
    practical, back = titration.example.practical, titration.example.practical.back
    gives_hydrogen = titrant is not None and titrant.lost < 1
    analyte = acid_of(titration.analyte, practical, partner_gives_hydrogen=gives_hydrogen)
    if analyte is None:
        return []
    found, used = [(analyte, titration.analyte_amount or 0.0)], reagent_used(titration)
    if back is not None and used is not None:
        for number, species in back.equation.right:
            acid = acid_of(species, practical)
            if acid is not None and species.formula != "CO2":
                found.append((acid, used * float(number / back.equation.coefficient(back.reagent))))
    return found


def reagent_used(titration: Titration) -> float | None:
    """Return the reagent of a back titration that the sample in one flask has used up [mmol]."""
    file, amounts = titration.example.practical.file, titration.amounts
    if file.excess is None:
        return None
    if file.blank is not None:
        return 1000 * float(amounts["n.left"])  # of a blank less the titre: what has reacted
    share = file.excess.made_up_to and file.flask.aliquot and file.flask.aliquot / file.excess.made_up_to
    return 1000 * float(amounts["n.reacted"] * Fraction(share or 1))
