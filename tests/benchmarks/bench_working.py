"""How well slips in the working are found: random practicals, slips planted by sums of its own, macro F1.

Run `python -m tests.benchmarks.bench_working [students]`. Everything here is worked apart from `labmark.diagnose`:
plain products on fractions, written down as a student would, with digits and roundings of many kinds. All students
and practicals are invented.
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Context, Decimal
from fractions import Fraction

from labmark.diagnose.working_mean_slips import mean_slips
from tests.build import run, student
from tests.calculations import Figures as Calculation
from tests.calculations import slips_behind

F = Fraction
RIGHT = "right"
PRACTICALS = 60
"""How many practicals the students of a run share."""


@dataclass(frozen=True)
class Planted:
    """A student's written result with the slip behind it."""

    calc: Calculation
    mean: Fraction
    titres: dict[str, Fraction]
    claimed: Decimal
    decimals: int | None
    truth: frozenset[str]
    ambiguous: bool
    """True: the written value is also the right one, or also that of another slip planted here."""


def figures(value: Fraction, count: int, rule: str = ROUND_HALF_UP) -> Fraction:
    """Return a value rounded to so many significant figures."""
    wide = Context(prec=60).divide(Decimal(value.numerator), Decimal(value.denominator))
    return Fraction(Context(prec=count, rounding=rule).plus(wide))


def places_for(value: Fraction, count: int) -> int:
    """Return the decimals that show a value to so many figures."""
    return count - 1 - Decimal(float(figures(value, count))).adjusted()


def write(value: Fraction, decimals: int, rule: str = ROUND_HALF_UP) -> Decimal:
    """Return a value as written to so many decimals."""
    wide = Context(prec=60).divide(Decimal(value.numerator), Decimal(value.denominator))
    return wide.quantize(Decimal(1).scaleb(-decimals), rounding=rule, context=Context(prec=60))


def random_practical(rng: random.Random) -> Calculation:
    """Return a practical of an invented kind."""
    known, unknown = rng.choice([(1, 1), (1, 2), (2, 1), (1, 3), (2, 5), (1, 5), (1, 6)])
    known_in = rng.choice(["burette", "burette", "burette", "flask"])
    concentration = F(rng.choice(["0.0500", "0.100", "0.0200", "0.125", "0.0985", "0.250", "0.0103"]))
    calc = Calculation(
        "amount concentration", concentration, F(rng.choice([25, 25, 20, 10])), known_in, known, unknown,
        significant_figures=rng.choice([3, 3, 3, 4]), known="K", unknown="U",
    )  # fmt: skip
    mass = F(rng.choice(["39.997", "36.458", "60.052", "105.988", "176.124"]))
    kind = rng.choice(["plain", "plain", "diluted", "diluted", "as it is", "mass", "percent", "water", "molar"])
    sample = {"sample_mass": F(rng.randrange(900, 2600), 1000), "sample_made_up_to": F(250)}
    if kind in {"diluted", "as it is", "mass"}:
        dilution = (F(rng.choice([10, 25, 20])), F(rng.choice([250, 100, 500])))
        calc = replace(calc, dilution=dilution, report_original=kind != "as it is")
    if kind == "mass":
        return replace(calc, quantity=rng.choice(["mass concentration", "percent mass by volume"]), molar_mass=mass)
    if kind in {"percent", "water", "molar"}:
        quantity = {"percent": "percent by mass", "water": "water of crystallisation", "molar": "molar mass"}[kind]
        return replace(
            calc, quantity=quantity, molar_mass=None if kind == "molar" else mass, known_in="burette", **sample
        )
    return calc


Sum = dict[str, Fraction]


def parts(calc: Calculation, titre: Fraction) -> Sum:
    """Return the figures of the sum by name."""
    volumes = (titre, calc.aliquot) if calc.known_in == "burette" else (calc.aliquot, titre)
    taken, made = calc.dilution or (F(1), F(1))
    return {
        "c": calc.known_concentration, "v": volumes[0], "w": volumes[1], "k": F(calc.coefficient_known),
        "u": F(calc.coefficient_unknown), "taken": taken if calc.report_original else F(1),
        "made": made if calc.report_original else F(1), "units": F(1), "mass": calc.molar_mass or F(1),
        "sample": calc.sample_mass or F(1), "flask": calc.sample_made_up_to or F(1),
    }  # fmt: skip


def no_rounding(value: Fraction) -> Fraction:
    """Return the value as it is."""
    return value


def result(quantity: str, p: Sum, keep: Callable[[Fraction], Fraction] = no_rounding, order: int = 0) -> Fraction:
    """Return the result of the figures; `keep` is what the student carries on of every value written down."""
    known = keep(p["c"] * p["v"] / 1000 * p["units"])
    if quantity in {"amount concentration", "mass concentration", "percent mass by volume"}:
        if order == 1:
            diluted = keep(keep(known / p["w"] * 1000) * p["u"] / p["k"])
            original = keep(diluted * p["made"] / p["taken"])
        elif order == 2:
            unknown = keep(known * p["u"] / p["k"])
            original = keep(keep(unknown * p["made"] / p["w"]) * 1000 / p["taken"])
        else:
            unknown = keep(known * p["u"] / p["k"])
            original = keep(keep(unknown / p["w"] * 1000) * p["made"] / p["taken"])
        mass = keep(original * p["mass"])
        return {"amount concentration": original, "mass concentration": mass, "percent mass by volume": mass / 10}[
            quantity
        ]
    unknown = keep(known * p["u"] / p["k"])
    if order == 1:
        amount = keep(keep(unknown * 1000 / p["w"]) * p["flask"] / 1000)
    else:
        amount = keep(unknown * p["flask"] / p["w"])
    if quantity == "percent by mass":
        return keep(amount * p["mass"]) / p["sample"] * 100
    molar = keep(p["sample"] / amount)
    if quantity == "molar mass":
        return molar
    if order == 2:
        water = keep(p["sample"] - keep(amount * p["mass"]))
        return keep(water / F("18.015")) / amount
    return keep(molar - p["mass"]) / F("18.015")


def swapped(p: Sum) -> Sum:
    """Return the figures with the two volumes in each other's place."""
    return {**p, "v": p["w"], "w": p["v"]}


SINGLES: dict[str, Callable[[Sum], Sum]] = {
    "ratio-ignored": lambda p: {**p, "u": F(1), "k": F(1)},
    "ratio-inverted": lambda p: {**p, "u": p["k"], "k": p["u"]},
    "volume-units": lambda p: {**p, "units": F(1000)},
    "volumes-swapped": swapped,
    "dilution-ignored": lambda p: {**p, "made": F(1), "taken": F(1)},
}
OTHERS: dict[str, Callable[[Sum], Sum]] = {
    "volume-units": lambda p: {**p, "units": F(1, 1000)},
    "dilution-ignored": lambda p: {**p, "made": p["taken"], "taken": p["made"]},
}
PAIRS = (
    ("ratio-ignored", "volume-units"), ("ratio-ignored", "dilution-ignored"), ("ratio-inverted", "volume-units"),
    ("ratio-inverted", "dilution-ignored"), ("volume-units", "dilution-ignored"),
)  # fmt: skip


def random_titres(rng: random.Random) -> dict[str, Fraction]:
    """Return the titres of a rough and three runs."""
    base = rng.randrange(300, 900)
    runs = {str(i + 1): F(base + rng.choice([-1, 0, 0, 1]), 20) for i in range(3)}
    return {"Rough": F(base + rng.choice([3, 6, 9, 14, 18]), 20), **runs}


def legitimate(rng: random.Random, asked: int) -> tuple[Callable[[Fraction], Fraction], int]:
    """Return a way to carry values on that is no slip, and an order of the sum."""
    rule = rng.choice([ROUND_HALF_UP, ROUND_HALF_EVEN])
    kind = rng.choice(["whole", "whole", "all", "some"])
    order = rng.randrange(3)
    if kind == "whole":
        return no_rounding, order
    if kind == "all":
        count = asked + rng.randrange(0, 4)
        return lambda value: figures(value, count, rule), order
    return lambda value: figures(value, asked + rng.randrange(0, 5), rule) if rng.random() < 0.5 else value, order


def written(rng: random.Random, value: Fraction, asked: int) -> tuple[Decimal, int | None]:
    """Return a value as a student writes it: as many figures as asked or one or two more, digits known or not."""
    decimals = places_for(value, asked + rng.choice([0, 0, 0, 1, 2]))
    decimals = max(decimals, places_for(value, asked), 0)
    claimed = write(value, decimals, rng.choice([ROUND_HALF_UP, ROUND_HALF_EVEN]))
    if rng.random() < 0.5:
        return claimed, decimals
    lost = claimed.normalize()
    return (lost if int(lost.as_tuple().exponent) <= 0 else lost.quantize(Decimal(1))), None


def slipped(truth: tuple[str, ...], p: Sum, rng: random.Random) -> Sum:
    """Return the figures with the slips made."""
    for code in truth:
        table = OTHERS if code in OTHERS and rng.random() < 0.25 else SINGLES
        p = table[code](p)
    return p


CODES = (*SINGLES, "rough-in-result", "rounding", "result-slip")


def plant(rng: random.Random, code: str | tuple[str, ...], *, calc: Calculation | None = None) -> Planted | None:
    """Return a student with this slip (or "right"); None where the practical has no room for it."""
    calc = calc or random_practical(rng)
    titres = random_titres(rng)
    accurate = [titres[label] for label in ("1", "2", "3")]
    mean = figures(sum(accurate, F(0)) / 3, 4)
    asked = calc.significant_figures
    p = parts(calc, mean)
    true = result(calc.quantity, p)
    if true <= 0:
        return None
    keep, order = legitimate(rng, asked)
    truth = (code,) if isinstance(code, str) else code
    if code == RIGHT:
        value = result(calc.quantity, p, keep, order)
    elif code == "rough-in-result":
        value = result(calc.quantity, parts(calc, titres["Rough"]), keep, order)
    elif code == "rounding":
        count = asked - 1
        value = result(calc.quantity, p, lambda value: figures(value, count), 0)
    elif code == "result-slip":
        value = true * F(rng.randrange(700, 1400), 1000)
    else:
        value = result(calc.quantity, slipped(truth, p, rng), keep, order)
    if value <= 0:
        return None
    claimed, decimals = written(rng, value, asked)
    ambiguous = is_near(true, claimed, asked, decimals) if code != RIGHT else False
    return Planted(calc, mean, titres, claimed, decimals, frozenset(truth) - {RIGHT}, ambiguous)


def is_near(true: Fraction, claimed: Decimal, asked: int, decimals: int | None) -> bool:
    """Return whether a written value is so near the right one that fair roundings may reach it (1.5 % at 3 figures)."""
    return abs(F(claimed) - true) <= abs(true) * F(15, 10**asked)


def found(one: Planted) -> frozenset[str]:
    """Return the codes that are named."""
    slips = slips_behind(
        one.calc.sum, mean=one.mean, claimed=one.claimed, decimals=one.decimals, titres=one.titres, other_means=()
    )
    return frozenset(slip.finding for slip in slips)


def macro_f1(pairs: list[tuple[frozenset[str], frozenset[str]]], codes: tuple[str, ...]) -> dict[str, float]:
    """Return F1 by code, and their mean under "macro"."""
    scores = {}
    for code in codes:
        hit = sum(code in truth and code in named for truth, named in pairs)
        either = sum(code in truth for truth, _ in pairs) + sum(code in named for _, named in pairs)
        scores[code] = 2 * hit / either if either else 1.0
    return {**scores, "macro": sum(scores.values()) / len(scores)}


def results(students: int, seed: int) -> list[Planted]:
    """Return right students and wrong ones of every kind; the doubtful ones left out."""
    rng = random.Random(seed)
    practicals = [random_practical(rng) for _ in range(PRACTICALS)]
    kinds: tuple[str | tuple[str, ...], ...] = (*[RIGHT] * 20, *CODES, *CODES, *CODES, *PAIRS)
    made = (plant(rng, rng.choice(kinds), calc=rng.choice(practicals)) for _ in range(students))
    return [one for one in made if one is not None and not one.ambiguous and applies(one)]


def applies(one: Planted) -> bool:
    """Return whether the slip changes anything in this practical."""
    calc = one.calc
    even = calc.coefficient_known == calc.coefficient_unknown
    solution = calc.quantity in {"amount concentration", "mass concentration", "percent mass by volume"}
    diluted = solution and calc.dilution is not None and calc.report_original
    return not (one.truth & {"ratio-ignored", "ratio-inverted"} and even) and not (
        "dilution-ignored" in one.truth and not diluted
    )


def means(students: int, seed: int) -> list[tuple[frozenset[str], frozenset[str]]]:
    """Return (planted, named) codes of written means."""
    rng = random.Random(seed)
    pairs = []
    for _ in range(students):
        base = rng.randrange(300, 900)
        good = [F(base + rng.choice([0, 1, 2]), 20) for _ in range(2)]
        bad, rough = F(base + rng.choice([5, 8, -5, -9]), 20), F(base + rng.choice([12, 15, 20]), 20)
        order = [*good, bad]
        rng.shuffle(order)
        runs = [
            run(label, f"0.00 {t}", f"{t}")
            for label, t in zip(("Rough", *"123"), map(cm3, (rough, *order)), strict=True)
        ]
        kind = rng.choice(["", "", "rough-in-mean", "discordant-in-mean", "mean-slip"])
        taken = {"": good, "rough-in-mean": [rough, *rng.choice([good, order])], "discordant-in-mean": order}.get(
            kind, good
        )
        mean = sum(taken, F(0)) / len(taken)
        if kind == "mean-slip":
            mean += F(rng.choice([-100, -20, -10, 10, 20, 100, 200]), 100)
        claimed, decimals = write(mean, 2), rng.choice([2, None])
        slips = mean_slips(student(*runs, mean=str(claimed), mean_decimals=decimals))
        pairs.append((frozenset({kind} - {""}), frozenset(slip.finding for slip in slips)))
    return pairs


def cm3(volume: Fraction) -> str:
    """Return a volume as text with two decimals."""
    return f"{float(volume):.2f}"


def calibration_error(planted: list[Planted]) -> float:
    """Return the expected calibration error of the probabilities: ten equal bins, weighed by how many are in each."""
    bins: dict[int, list[tuple[float, bool]]] = {}
    for one in (one for one in planted if one.truth):
        slips = slips_behind(one.calc.sum, mean=one.mean, claimed=one.claimed, decimals=one.decimals, titres=one.titres)
        for slip in (slip for slip in slips if slip.probability is not None):
            bins.setdefault(min(9, int(slip.probability * 10)), []).append(
                (slip.probability, slip.finding in one.truth)
            )
    total = sum(map(len, bins.values()))
    return sum(abs(sum(odds - hit for odds, hit in each)) for each in bins.values()) / total


def main(students: int) -> None:
    """Print the scores and the time taken."""
    planted = results(students, 20)
    for one in planted:
        found(replace(one, claimed=Decimal(1)))
    pairs, spent = [], Counter[str]()
    for one in planted:
        start = time.perf_counter()
        named = found(one)
        spent["wrong" if one.truth else "right"] += int((time.perf_counter() - start) * 1e9)
        pairs.append((one.truth, named))
    right = [named for truth, named in pairs if not truth]
    print(f"{len(planted)} results; right ones called wrong: {sum(bool(n) for n in right)} of {len(right)}")
    print(f"µs a student: right {spent['right'] / 1e3 / max(1, len(right)):.0f}, "
          f"wrong {spent['wrong'] / 1e3 / max(1, len(pairs) - len(right)):.0f}")  # fmt: skip
    print(f"expected calibration error of the probabilities: {calibration_error(planted):.3f}")
    for code, score in macro_f1(pairs, CODES).items():
        print(f"  {code:20s} F1 {score:.3f}")
    confusion = Counter((" + ".join(sorted(t)) or RIGHT, " + ".join(sorted(n)) or RIGHT) for t, n in pairs if t != n)
    for (truth, named), count in confusion.most_common(25):
        print(f"  {count:5d}  {truth} taken for {named}")
    print("means")
    for code, score in macro_f1(means(students // 4, 21), ("rough-in-mean", "discordant-in-mean", "mean-slip")).items():
        print(f"  {code:20s} F1 {score:.3f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 4000)
