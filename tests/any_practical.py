"""Any practical that the keys can express, for property tests. Settings are invented."""

from __future__ import annotations

from hypothesis import strategies as st

from tests.practicals import ACID, CHALK, back, titration

OF_SAMPLE = [
    "percent by mass", "mass", "molar mass", "water of crystallisation", "mass per item", "value per gram",
]  # fmt: skip
OF_SOLUTION = ["amount concentration", "mass concentration", "percent mass by volume", "titre factor"]
QUANTITIES = OF_SAMPLE + OF_SOLUTION
OF_ONE_SUBSTANCE = {
    "solubility product": ("Ca(OH)2 + 2 HCl -> CaCl2 + 2 H2O", "HCl", "Ca(OH)2"),
    "volume strength": ("2 MnO4- + 5 H2O2 + 6 H+ -> 2 Mn2+ + 5 O2 + 8 H2O", "MnO4-", "H2O2"),
}
"""Quantities that only some substances have."""
KINDS = ("known in the burette", "known in the flask", "mixture made up", "mixture whole", "portions")

EQUATIONS = [
    ("H2SO4 + 2 NaOH -> Na2SO4 + 2 H2O", "H2SO4", "NaOH"),
    ("HCl + NaOH -> NaCl + H2O", "HCl", "NaOH"),
    ("MnO4- + 5 Fe2+ + 8 H+ -> Mn2+ + 5 Fe3+ + 4 H2O", "MnO4-", "Fe2+"),
    ("2 MnO4- + 5 C2O4^2- + 16 H+ -> 2 Mn2+ + 10 CO2 + 8 H2O", "MnO4-", "C2O4^2-"),
]


@st.composite
def direct_titrations(draw, known_in=None, quantity=None):
    """Return any direct titration: the known in either vessel, diluted or not, all quantities."""
    equation, known, unknown = OF_ONE_SUBSTANCE.get(quantity) or draw(st.sampled_from(EQUATIONS))
    known_in = known_in or draw(st.sampled_from(["burette", "flask"]))
    quantity = quantity or draw(st.sampled_from(QUANTITIES))
    in_flask = known_in == "burette"
    dilution = "dilution = { taken = 20.0, made_up_to = 250.0 }" if in_flask and draw(st.booleans()) else ""
    more = {"sample": "mass = 3.250\nitems = 5\nmade_up_to = 200.0"} if quantity in OF_SAMPLE else {}
    concentration = draw(st.sampled_from(["0.0500", "0.1", "0.0213"]))
    aliquot = draw(st.sampled_from(["25.0", "20.00", "10"]))
    return titration(
        equation, known, concentration, unknown, aliquot, known_in=known_in, quantity=quantity, dilution=dilution,
        **more,
    )  # fmt: skip


@st.composite
def back_titrations(draw, kind=None, quantity=None):
    """Return any back titration: either form, made up or not, all quantities, ratios other than 1 : 1."""
    kind = kind or draw(st.sampled_from(KINDS[2:]))
    portion, made_up = kind == "portions", kind == "mixture made up"
    quantity = quantity or draw(st.sampled_from(QUANTITIES))
    reaction, titrant = draw(st.sampled_from([(ACID, "NaOH"), ("2 HCl + Na2CO3 -> 2 NaCl + H2O + CO2", "Na2CO3")]))
    second, unknown = draw(st.sampled_from([(CHALK, "CaCO3"), ("NH3 + HCl -> NH4Cl", "NH3")]))
    weighed = "mass = 3.250\nitems = 5" + ("\nmade_up_to = 200.0" if portion else "")
    return back(
        reaction,
        (titrant, draw(st.sampled_from(["0.1", "0.0500"]))),
        ("HCl", draw(st.sampled_from(["0.5", "1.00"])), draw(st.sampled_from(["50.0", "40.0"]))),
        second,
        unknown,
        aliquot="25.0" if portion or made_up else None,
        made_up_to="250.0" if made_up else None,
        portion=portion,
        sample=weighed if quantity in OF_SAMPLE else "" if portion else "volume = 20.0",
        quantity=quantity,
        dilution="dilution = { taken = 10.0, made_up_to = 100.0 }" if portion and draw(st.booleans()) else "",
    )


def titrations():
    """Return any titration."""
    return st.one_of(direct_titrations(), back_titrations())
