"""Published worked titrations: each with its source, the practical as a teacher would write it, and the printed answer.

Source and printed answer were written down before the program was run on them. `published` keeps the printed digits;
an answer agrees within one unit of the last of them. What does not agree has the reason under `differs`, and the value
that the source's own figures give without its slip or with the molar masses of today, by hand. Sources marked "from
memory" were not at hand. Volumes in cm³, concentrations in mol/dm³, masses in g.
"""

from __future__ import annotations

from typing import NamedTuple


class Example(NamedTuple):
    """One published example."""

    title: str
    source: str
    practical: str
    """The practical file without its title."""
    titres: tuple[str, ...]
    """Of the accurate runs; a single one is written for two runs alike."""
    published: str
    own: tuple[tuple[str, str], ...] = ()
    """(heading, number) of the student's own."""
    differs: str = ""
    """Why it does not agree."""
    by_hand: str = ""
    """What is expected then, to its digits."""


OPENSTAX = "OpenStax, Chemistry 2e (CC BY)"
TALBOT = "H. P. Talbot, An Introductory Course of Quantitative Chemical Analysis, 6th ed. (public domain)"
PARADKAR = "T. Paradkar, Applied Chemistry, worked examples as transcribed in the FOSSEE companion"
SENAPATI = "M. R. Senapati, Advanced Engineering Chemistry, as transcribed in the FOSSEE companion"
VILLAVECCHIA = "V. Villavecchia, Treatise on Applied Analytical Chemistry, vol. 1 (public domain)"
HARVEY = "D. Harvey, Analytical Chemistry 2.1 (LibreTexts), chapter 9, from memory"
USP = "United States Pharmacopeia"
KOH_56 = "the book takes 56 g/mol for KOH, not 56.106"

OIL = """equation = "KOH + HCl -> KCl + H2O"
burette = {{ solution = "HCl", concentration = {0}, capacity = 50.0 }}
flask = {{ solution = "KOH", aliquot = 50.0 }}
excess = {{ solution = "KOH", equation = "XR + KOH -> KX + ROH", volume = 50.0 }}
blank = {{ titre = {1} }}
sample = {{ mass = {{ column = "Mass" }} }}
result = {{ of = "XR", quantity = "value per gram", expressed_as = "KOH", significant_figures = 4 }}
"""
"""A saponification value: concentration of the acid, blank."""

ACID_VALUE = """equation = "XH + KOH -> KX + H2O"
burette = {{ solution = "KOH", concentration = {0} }}
flask = {{ solution = "XH" }}
sample = {{ mass = {{ column = "Mass" }} }}
result = {{ of = "XH", quantity = "value per gram", expressed_as = "KOH" }}
"""
"""An acid value: concentration of the alkali."""

HARDNESS = """equation = "CaCO3 + C10H14N2Na2O8 -> C10H12CaN2Na2O8 + CO2 + H2O"
burette = {{ solution = "C10H14N2Na2O8" }}
flask = {{ solution = "CaCO3", aliquot = {2} }}
result = {{ of = "CaCO3", quantity = "mass concentration", unit = "{3}", significant_figures = 4 }}
[standardisation]
standard = "CaCO3"
equation = "CaCO3 + C10H14N2Na2O8 -> C10H12CaN2Na2O8 + CO2 + H2O"
masses = [{0}]
titres = [{1}]
"""
"""Hardness by EDTA, itself standardised: g of CaCO3, titre, volume of water, unit."""

EQUIVALENT = """equation = {0}
burette = {{ solution = "{1}", concentration = {2} }}
flask = {{ solution = "{3}" }}
sample = {{ mass = 1.0000 }}
result = {{ of = "{3}", quantity = "mass", unit = "mg"{4}, significant_figures = 4 }}
"""
"""What 1 cm³ of a solution stands for: equation, titrant, its concentration, unknown, more about the result. (The mass
weighed is not printed and does not count.) The printed figure is for 1 cm³; the titre is 10 cm³."""

EXAMPLES = (
    # --- amount concentrations: the unknown in the flask ---
    Example(
        "Hydrochloric acid",
        f"{OPENSTAX}, section 4.5, Example 4.14",
        # 0.250 × 35.23 ÷ 50.0 = 0.17615
        """equation = "HCl + NaOH -> NaCl + H2O"
burette = { solution = "NaOH", concentration = 0.250 }
flask = { solution = "HCl", aliquot = 50.0 }
result = { of = "HCl" }
""",
        ("35.23",),
        "0.176",
    ),
    Example(
        "Ethanedioic acid by manganate(VII)",
        f"{OPENSTAX}, section 4.5, Example 4.14, check your learning",
        # 0.09113 × 23.24 × 5 ÷ 2 ÷ 20.00 = 0.26473
        """equation = "5 H2C2O4 + 2 MnO4^- + 6 H^+ -> 10 CO2 + 2 Mn^2+ + 8 H2O"
burette = { solution = "MnO4^-", concentration = 0.09113 }
flask = { solution = "H2C2O4", aliquot = 20.0 }
result = { of = "H2C2O4", significant_figures = 4 }
""",
        ("23.24",),
        "0.2648",
    ),
    Example(
        "Acid rain",
        f"{OPENSTAX}, chapter 4, exercise 79",
        # 0.0811 × 1.7 ÷ 2 ÷ 20.0 = 0.003447
        """equation = "H2SO4 + 2 NaOH -> Na2SO4 + 2 H2O"
burette = { solution = "NaOH", concentration = 0.0811 }
flask = { solution = "H2SO4", aliquot = 20.0 }
result = { of = "H2SO4" }
""",
        ("1.70",),
        "0.0034",
    ),
    Example(
        "Chloride in serum, in mmol/dm3",
        f"{OPENSTAX}, chapter 4, exercise 81 (9.6e-3 M)",
        # 0.000825 × 1.46 × 2 ÷ 0.25 × 1000 = 9.636
        """equation = "2 Cl^- + Hg^2+ -> HgCl2"
burette = { solution = "Hg^2+", concentration = 0.000825 }
flask = { solution = "Cl^-", aliquot = 0.25, tolerance = 0.01 }
result = { of = "Cl^-", unit = "mmol/dm3" }
""",
        ("1.46",),
        "9.6",
    ),
    Example(
        "Ethanedioic acid by sodium hydroxide",
        f"{OPENSTAX}, chapter 4, exercise 89: the printed titre is 13.64 mL, of 0.1500 M acid",
        # 0.3300 × 13.64 ÷ 2 ÷ 15.00 = 0.15004
        """equation = "H2C2O4 + 2 NaOH -> Na2C2O4 + 2 H2O"
burette = { solution = "NaOH", concentration = 0.3300 }
flask = { solution = "H2C2O4", aliquot = 15.0 }
result = { of = "H2C2O4", significant_figures = 4 }
""",
        ("13.64",),
        "0.1500",
    ),
    Example(
        "Phosphoric acid to the second proton",
        f"{OPENSTAX}, chapter 4, exercise 93: the printed titre is 34.99 mL, of 0.0656 M acid",
        # 0.150 × 34.99 ÷ 2 ÷ 40.0 = 0.06561
        """equation = "H3PO4 + 2 KOH -> K2HPO4 + 2 H2O"
burette = { solution = "KOH", concentration = 0.150 }
flask = { solution = "H3PO4", aliquot = 40.0 }
result = { of = "H3PO4" }
""",
        ("34.99",),
        "0.0656",
    ),
    Example(
        "A monoprotic acid of no name",
        'University of Wisconsin-Eau Claire, Chem 452, "Try this" answers',
        # 0.100 × 26.3 ÷ 35.6 = 0.07388
        """equation = "HA + KOH -> KA + H2O"
burette = { solution = "KOH", concentration = 0.100 }
flask = { solution = "HA", aliquot = 35.6 }
result = { of = "HA" }
""",
        ("26.30",),
        "0.074",
    ),
    Example(
        "Hydrochloric acid by standardised sodium hydroxide",
        "EURACHEM/CITAC guide Quantifying Uncertainty in Analytical Measurement, 3rd ed., examples A2 and A3: the acid"
        " of A3 (0.10139 mol/dm³ by V(T1) 18.64, V(T2) 14.89 cm³, 0.3888 g of KHP) as the 15 cm³ taken",
        # 0.3888 ÷ 204.2212 × 1000 ÷ 18.64 × 14.89 ÷ 15.00 = 0.101387
        """equation = "HCl + NaOH -> NaCl + H2O"
burette = { solution = "NaOH" }
flask = { solution = "HCl", aliquot = 15.0 }
result = { of = "HCl", significant_figures = 5 }
[standardisation]
standard = "KHC8H4O4"
equation = "KHC8H4O4 + NaOH -> KNaC8H4O4 + H2O"
masses = [0.3888]
titres = [18.64]
significant_figures = 5
""",
        ("14.89",),
        "0.10139",
    ),
    Example(
        "Hydrogen peroxide before its dilution",
        "askanewquestion.com, question 2976602: 15 mL made up to 300 mL, 20 mL taken",
        # 0.021 × 18.72 × 5 ÷ 2 ÷ 20 × 300 ÷ 15 = 0.9828
        """equation = "5 H2O2 + 2 MnO4^- + 6 H^+ -> 5 O2 + 2 Mn^2+ + 8 H2O"
burette = { solution = "MnO4^-", concentration = 0.021 }
flask = { solution = "H2O2", aliquot = 20.0, dilution = { taken = 15.0, made_up_to = 300.0, flask_tolerance = 0.3 } }
result = { of = "H2O2", significant_figures = 4 }
""",
        ("18.72",),
        "0.9828",
    ),
    # --- the unknown in the burette ---
    Example(
        "Sodium hydroxide by a known acid, in normal solutions",
        f"{TALBOT}, problem 11",
        # 0.5172 × 39.65 ÷ 21.74 = 0.94328
        """equation = "HCl + NaOH -> NaCl + H2O"
burette = { solution = "NaOH" }
flask = { solution = "HCl", concentration = 0.5172, aliquot = 39.65, tolerance = 0.05 }
result = { of = "NaOH", significant_figures = 4 }
""",
        ("21.74",),
        "0.9432",
    ),
    Example(
        "Potassium thiocyanate by silver nitrate",
        "Experiment 6: chloride by the Volhard method (scribd presentation 498148741), part I",
        # 0.1 × 20 ÷ 23 = 0.08696
        """equation = "Ag^+ + SCN^- -> AgSCN"
burette = { solution = "SCN^-" }
flask = { solution = "Ag^+", concentration = 0.1, aliquot = 20.0 }
result = { of = "SCN^-" }
""",
        ("23.00",),
        "0.087",
    ),
    # --- standards weighed by each ---
    Example(
        "Sodium hydroxide by weighed phthalate",
        "EURACHEM/CITAC guide Quantifying Uncertainty in Analytical Measurement, 3rd ed., example A2",
        # 0.3888 ÷ 204.2212 × 1000 ÷ 18.64 = 0.102136
        """equation = "KHC8H4O4 + NaOH -> KNaC8H4O4 + H2O"
burette = { solution = "NaOH" }
flask = { solution = "KHC8H4O4" }
sample = { mass = { column = "Mass" }, purity = 1.0 }
result = { of = "NaOH", significant_figures = 5 }
""",
        ("18.64",),
        "0.10214",
        (("Mass", "0.3888"),),
    ),
    Example(
        "Potassium hydroxide by weighed phthalate, as its factor",
        f"{USP}, volumetric solutions (tech-publish.com): each 204.23 mg of biphthalate is equivalent to 1 mL of 1 N",
        # 204.23 mg × 0.1 × 25 cm³ = 510.6 mg: the solution is 0.1000 N.
        """equation = "KHC8H4O4 + KOH -> K2C8H4O4 + H2O"
burette = { solution = "KOH" }
flask = { solution = "KHC8H4O4" }
sample = { mass = { column = "Mass" } }
result = { of = "KOH", quantity = "titre factor", nominal = 0.1, significant_figures = 4 }
""",
        ("25.00",),
        "1.000",
        (("Mass", "0.5106"),),
    ),
    Example(
        "Manganate(VII) by weighed ethanedioate",
        f"{USP}, volumetric solutions (tech-publish.com): each 6.700 mg of oxalate is equivalent to 1 mL of 0.1 N",
        # 6.700 mg × 30 = 201.0 mg; 0.1 N is 0.02000 mol/dm³.
        """equation = "5 Na2C2O4 + 2 KMnO4 + 8 H2SO4 -> 10 CO2 + 2 MnSO4 + 8 H2O + K2SO4 + 5 Na2SO4"
burette = { solution = "KMnO4" }
flask = { solution = "Na2C2O4" }
sample = { mass = { column = "Mass" } }
result = { of = "KMnO4", significant_figures = 4 }
""",
        ("30.00",),
        "0.02000",
        (("Mass", "0.2010"),),
    ),
    Example(
        "Thiosulfate by weighed iodate, a chain with the unknown in the burette",
        "IMAK2004 course page (public repository): 0.1210 g of KIO3, 41.64 mL",
        """equation = [ "KIO3 + 5 KI + 6 HCl -> 3 I2 + 6 KCl + 3 H2O", "I2 + 2 Na2S2O3 -> 2 NaI + Na2S4O6" ]
burette = { solution = "Na2S2O3" }
flask = { solution = "KIO3" }
sample = { mass = { column = "Mass" } }
result = { of = "Na2S2O3", significant_figures = 4 }
""",
        ("41.64",),
        "0.08149",
        (("Mass", "0.1210"),),
        "the amount 0.003393 mol over 0.04164 dm³ is 0.08148; the amount itself was rounded up twice",
        # 0.1210 ÷ 214.00 × 6 × 1000 ÷ 41.64
        "0.08147",
    ),
    # --- masses ---
    Example(
        "Sodium hydrogencarbonate",
        f"{OPENSTAX}, chapter 4, exercise 87: the printed titre is 49.6 mL, of 2.5 g in 100 mL of the solution",
        # 0.600 × 49.6 ÷ 1000 × 84.007 = 2.5000
        """equation = "NaHCO3 + HCl -> NaCl + H2O + CO2"
burette = { solution = "HCl", concentration = 0.600 }
flask = { solution = "NaHCO3" }
sample = { mass = 2.5 }
result = { of = "NaHCO3", quantity = "mass" }
""",
        ("49.60",),
        "2.50",
    ),
    Example(
        "Sodium cyanide by silver nitrate",
        f"{OPENSTAX}, chapter 15, exercise 80 or 81",
        # 0.0100 × 28.72 ÷ 1000 × 2 × 49.008 = 0.028150
        """equation = "Ag^+ + 2 CN^- -> Ag(CN)2^-"
burette = { solution = "Ag^+", concentration = 0.0100 }
flask = { solution = "CN^-" }
sample = { mass = 1.0 }
result = { of = "CN^-", expressed_as = "NaCN", quantity = "mass" }
""",
        ("28.72",),
        "0.0281",
    ),
    Example(
        "Phosphorus trichloride",
        f"{OPENSTAX}, chapter 18, exercise 71: the printed titre is 291 mL, of 2.00 g",
        # 0.200 × 291 ÷ 1000 ÷ 4 × 137.33 = 1.998
        """equation = "PCl3 + 4 NaOH -> NaH2PO3 + 3 NaCl + H2O"
burette = { solution = "NaOH", concentration = 0.200, capacity = 500.0, tolerance = 1.0 }
flask = { solution = "PCl3" }
sample = { mass = 2.00 }
result = { of = "PCl3", quantity = "mass" }
""",
        ("291.00",),
        "2.00",
    ),
    Example(
        "Sodium chlorate(I), a chain of two reactions",
        f"{USP} 32, Sodium Hypochlorite Solution: each mL of 0.1 N thiosulfate is equivalent to 3.722 mg",
        # 0.1 × 10 ÷ 2 × 74.439 = 37.22
        EQUIVALENT.format(
            '[ "ClO^- + 2 I^- + 2 H^+ -> I2 + Cl^- + H2O", "I2 + 2 S2O3^2- -> 2 I^- + S4O6^2-" ]',
            "S2O3^2-",
            "0.1000",
            "ClO^-",
            ', expressed_as = "NaClO"',
        ),
        ("10.00",),
        "37.22",
    ),
    Example(
        "Urea peroxide, a chain of two reactions",
        f"{USP} 32, Carbamide Peroxide Topical Solution: each mL of 0.1 N thiosulfate is equivalent to 4.704 mg",
        # 0.1 × 10 ÷ 2 × 94.07 = 47.04
        EQUIVALENT.format(
            '[ "CH6N2O3 + 2 I^- + 2 H^+ -> CH4N2O + I2 + 2 H2O", "I2 + 2 S2O3^2- -> 2 I^- + S4O6^2-" ]',
            "S2O3^2-",
            "0.1000",
            "CH6N2O3",
            "",
        ),
        ("10.00",),
        "47.04",
    ),
    Example(
        "Potassium iodate, a chain of two reactions",
        "British Pharmacopoeia 2012, potassium iodate VS: each mL of 0.1 M thiosulfate is equivalent to 3.566 mg",
        # 0.1 × 10 ÷ 6 × 214.00 = 35.67
        EQUIVALENT.format(
            '[ "KIO3 + 5 KI + 3 H2SO4 -> 3 I2 + 3 K2SO4 + 3 H2O", "I2 + 2 Na2S2O3 -> 2 NaI + Na2S4O6" ]',
            "Na2S2O3",
            "0.1000",
            "KIO3",
            "",
        ),
        ("10.00",),
        "35.66",
    ),
    Example(
        "Potassium chlorate by iodine",
        f"{VILLAVECCHIA}, p. 83: 1 cc of N/10 thiosulfate is 0.0020416 g",
        EQUIVALENT.format(
            '[ "ClO3^- + 6 I^- + 6 H^+ -> Cl^- + 3 I2 + 3 H2O", "I2 + 2 S2O3^2- -> 2 I^- + S4O6^2-" ]',
            "S2O3^2-",
            "0.1000",
            "ClO3^-",
            ', expressed_as = "KClO3"',
        ),
        ("10.00",),
        "20.416",
        differs="the molar mass was 122.5 g/mol, and the last figure is cut off",
        # 0.1 × 10 ÷ 6 × 122.549
        by_hand="20.425",
    ),
    Example(
        "Hydrogen peroxide by manganate(VII)",
        f"{USP} 29, Hydrogen Peroxide Topical Solution: each mL of 0.1 N permanganate is equivalent to 1.701 mg",
        # 0.02 × 10 × 5 ÷ 2 × 34.014 = 17.01
        EQUIVALENT.format(
            '"5 H2O2 + 2 KMnO4 + 3 H2SO4 -> 5 O2 + 2 MnSO4 + K2SO4 + 8 H2O"', "KMnO4", "0.02000", "H2O2", ""
        ),
        ("10.00",),
        "17.01",
    ),
    Example(
        "Iron(II) sulfate crystals by cerium(IV)",
        f"{USP} 32, Ferrous Sulfate: each mL of 0.1 N ceric sulfate is equivalent to 27.80 mg of FeSO4.7H2O",
        # 0.1 × 10 × 278.01 = 278.0
        EQUIVALENT.format(
            '"Fe^2+ + Ce^4+ -> Fe^3+ + Ce^3+"', "Ce^4+", "0.1000", "Fe^2+", ', expressed_as = "FeSO4.7H2O"'
        ),
        ("10.00",),
        "278.0",
    ),
    Example(
        "Vitamin C by iodine",
        "pharmaguideline.com, assay of ascorbic acid: each ml of 0.05 M iodine is equivalent to 0.008806 g",
        # 0.05 × 10 × 176.12 = 88.06
        EQUIVALENT.format('"C6H8O6 + I2 -> C6H6O6 + 2 HI"', "I2", "0.05000", "C6H8O6", ""),
        ("10.00",),
        "88.06",
    ),
    Example(
        "Alkali as sodium hydroxide",
        "JECFA, FNP 52, Sodium hydroxide: each mL of 1 N sulfuric acid is equivalent to 40.00 mg",
        # 0.5 × 10 × 2 × 39.997 = 400.0
        EQUIVALENT.format('"2 NaOH + H2SO4 -> Na2SO4 + 2 H2O"', "H2SO4", "0.5000", "NaOH", ""),
        ("10.00",),
        "400.0",
    ),
    Example(
        "Boric acid with mannitol",
        "Acid-base titration slides (borax by mannitol): 1 mL of 1 N NaOH is 0.06184 g of H3BO3",
        # 1 × 10 × 61.83 = 618.3; the slides take 61.84.
        EQUIVALENT.format('"H3BO3 + NaOH -> NaH2BO3 + H2O"', "NaOH", "1.000", "H3BO3", ""),
        ("10.00",),
        "618.4",
    ),
    Example(
        "Borax with mannitol",
        "Acid-base titration slides (borax by mannitol): 1 mL of 1 N NaOH is 0.05033 g of Na2B4O7",
        EQUIVALENT.format('"Na2B4O7 + 4 NaOH -> 2 Na3HB2O5 + H2O"', "NaOH", "1.000", "Na2B4O7", ""),
        ("10.00",),
        "503.3",
        differs="the slides take 201.3 g/mol for borax, not 201.22",
        # 1 × 10 ÷ 4 × 201.22
        by_hand="503.0",
    ),
    Example(
        "Sodium chloride by silver in excess",
        "Assay of table salt (scribd document 615365254): each mL of 0.1 N silver nitrate is equivalent to 5.844 mg",
        # 50.0 − 40.00 = 10.00 cm³ of silver reacted: 0.1 × 10 × 58.44 = 58.44
        """equation = "AgNO3 + NH4SCN -> AgSCN + NH4NO3"
burette = { solution = "NH4SCN", concentration = 0.1000 }
flask = { solution = "AgNO3" }
excess = { solution = "AgNO3", equation = "NaCl + AgNO3 -> AgCl + NaNO3", concentration = 0.1000, volume = 50.0 }
sample = { mass = 0.250 }
result = { of = "NaCl", quantity = "mass", unit = "mg", significant_figures = 4 }
""",
        ("40.00",),
        "58.44",
    ),
    Example(
        "Magnesium hydroxide by acid in excess",
        "Assay of milk of magnesia (scribd document 521959865): each mL of 1 N sulfuric acid is equivalent to 29.16 mg",
        # 25.0 − 15.00 = 10.00 cm³ of 1 N acid reacted: 0.5 × 10 × 58.319 = 291.6
        """equation = "H2SO4 + 2 NaOH -> Na2SO4 + 2 H2O"
burette = { solution = "NaOH", concentration = 1.000 }
flask = { solution = "H2SO4" }
excess = { solution = "H2SO4", equation = "Mg(OH)2 + H2SO4 -> MgSO4 + 2 H2O", concentration = 0.500, volume = 25.0 }
sample = { mass = 5.0 }
result = { of = "Mg(OH)2", quantity = "mass", unit = "mg", significant_figures = 4 }
""",
        ("15.00",),
        "291.6",
    ),
    # --- mass per item ---
    # --- per cent by mass ---
    Example(
        "Iron in an ore",
        f"{OPENSTAX}, chapter 19, exercise 11",
        # 0.0100 × 19.17 × 6 ÷ 1000 × 55.845 ÷ 2.5000 × 100 = 2.569
        """equation = "Cr2O7^2- + 6 Fe^2+ + 14 H^+ -> 2 Cr^3+ + 6 Fe^3+ + 7 H2O"
burette = { solution = "Cr2O7^2-", concentration = 0.0100 }
flask = { solution = "Fe^2+" }
sample = { mass = { column = "Mass" } }
result = { of = "Fe^2+", quantity = "percent by mass" }
""",
        ("19.17",),
        "2.57",
        (("Mass", "2.5000"),),
    ),
    Example(
        "Iron in a vitamin tablet",
        "thestudentroom.co.uk, redox titrations, post 37736082: 0.325 g, 12.10 cm³ of 0.002 mol/dm³ manganate(VII)",
        # 0.002 × 12.10 × 5 ÷ 1000 × 55.845 ÷ 0.325 × 100 = 2.079
        """equation = "MnO4^- + 5 Fe^2+ + 8 H^+ -> Mn^2+ + 5 Fe^3+ + 4 H2O"
burette = { solution = "MnO4^-", concentration = 0.002 }
flask = { solution = "Fe^2+" }
sample = { mass = { column = "Mass / mg" } }
result = { of = "Fe^2+", quantity = "percent by mass" }
""",
        ("12.10",),
        "2.08",
        (("Mass / mg", "325"),),
    ),
    Example(
        "Sodium carbonate, rounded in between",
        "CHEM2 acid-base notes 19, percentage purity, worked example",
        """equation = "Na2CO3 + 2 HCl -> 2 NaCl + CO2 + H2O"
burette = { solution = "HCl", concentration = 0.315 }
flask = { solution = "Na2CO3" }
sample = { mass = { column = "Mass" } }
result = { of = "Na2CO3", quantity = "percent by mass" }
""",
        ("25.00",),
        "69.7",
        (("Mass", "0.600"),),
        "the mass was rounded to 0.418 g in between",
        # 0.315 × 25.00 ÷ 2 ÷ 1000 × 105.99 ÷ 0.600 × 100
        "69.6",
    ),
    Example(
        "Manganese dioxide",
        f"{VILLAVECCHIA}, p. 75: of 1.0866 g, 1 cc of N/2 permanganate is 2 per cent",
        # (0.25 × 50.0 − 0.1 × 40.00 × 5 ÷ 2) ÷ 1000 × 86.936 ÷ 1.0866 × 100 = 20.00, 2 for each of 10 cm³ saved
        """equation = "5 H2C2O4 + 2 MnO4^- + 6 H^+ -> 10 CO2 + 2 Mn^2+ + 8 H2O"
burette = { solution = "MnO4^-", concentration = 0.1 }
flask = { solution = "H2C2O4" }
excess = { solution = "H2C2O4", equation = "MnO2 + H2C2O4 + 2 H^+ -> Mn^2+ + 2 CO2 + 2 H2O", concentration = 0.25, volume = 50.0 }
sample = { mass = 1.0866 }
result = { of = "MnO2", quantity = "percent by mass", significant_figures = 4 }
""",
        ("40.00",),
        "20.00",
    ),
    Example(
        "Potassium cyanide, 10 g in 1 dm³",
        f"{VILLAVECCHIA}, p. 84: of 25 cc, 1 cc of N/10 silver nitrate is 5.2 per cent",
        # 0.1 × 5 × 2 ÷ 1000 × 65.12 × 1000 ÷ 25 ÷ 10 × 100 = 26.05, a fifth of it for each cm³
        """equation = "Ag^+ + 2 CN^- -> Ag(CN)2^-"
burette = { solution = "Ag^+", concentration = 0.1 }
flask = { solution = "CN^-", aliquot = 25.0 }
sample = { mass = 10.0, made_up_to = 1000.0 }
result = { of = "CN^-", expressed_as = "KCN", quantity = "percent by mass" }
""",
        ("1.00",),
        "5.2",
    ),
    Example(
        "Protein in meat, with a blank",
        "freesmartcalculator.com, crude protein, meat sample: blank 25.0 mL, sample 12.5 mL, 0.1 mol/L, 1.000 g",
        # (25.0 − 12.5) × 0.1 ÷ 1000 × 14.007 ÷ 1.000 × 100 × 6.25 = 10.943
        """equation = "HCl + NaOH -> NaCl + H2O"
burette = { solution = "NaOH", concentration = 0.1 }
flask = { solution = "HCl", aliquot = 25.0 }
excess = { solution = "HCl", equation = "NH3 + HCl -> NH4Cl", volume = 25.0 }
blank = { titre = 25.0 }
sample = { mass = { column = "Mass" } }
result = { of = "NH3", expressed_as = "N", quantity = "percent by mass", factor = 6.25, factor_name = "protein factor" }
""",
        ("12.50",),
        "10.94",
        (("Mass", "1.000"),),
    ),
    Example(
        "Protein in cheese, with each student's own blank",
        "foodsystems.africa, protein by the Kjeldahl process: blank 9.9 mL, samples of 0.2 g 5.7 and 5.6 mL, 0.1 N",
        # (9.90 − 5.65) × 0.1 ÷ 1000 × 14.007 ÷ 0.2 × 100 × 6.38 = 18.99
        """equation = "HCl + NaOH -> NaCl + H2O"
burette = { solution = "NaOH", concentration = 0.1 }
flask = { solution = "HCl", aliquot = 10.0 }
excess = { solution = "HCl", equation = "NH3 + HCl -> NH4Cl", volume = 10.0 }
blank = { titre = { column = "Blank titre" } }
sample = { mass = 0.2 }
result = { of = "NH3", expressed_as = "N", quantity = "percent by mass", factor = 6.38, factor_name = "protein factor" }
""",
        ("5.70", "5.60"),
        "18.98",
        (("Blank titre", "9.90"),),
    ),
    # --- per cent mass by volume ---
    Example(
        "Dilute hydrogen peroxide in per cent",
        "Prominent Dulcotest manual, p. 48: 20 ml, 11.8 ml of 0.1 N permanganate; 0.1003 %",
        # 0.02 × 11.8 × 5 ÷ 2 ÷ 20 × 34.014 ÷ 10 = 0.10034
        """equation = "5 H2O2 + 2 MnO4^- + 6 H^+ -> 5 O2 + 2 Mn^2+ + 8 H2O"
burette = { solution = "MnO4^-", concentration = 0.0200 }
flask = { solution = "H2O2", aliquot = 20.0 }
result = { of = "H2O2", quantity = "percent mass by volume", significant_figures = 4 }
""",
        ("11.80",),
        "0.1003",
    ),
    # --- mass concentrations, in every unit ---
    Example(
        "Dilute hydrogen peroxide in ppm",
        "Prominent Dulcotest manual, p. 48: 20 ml, 11.8 ml of 0.1 N permanganate; 1003 ppm",
        # 0.02 × 11.8 × 5 ÷ 2 ÷ 20 × 34.014 × 1000 = 1003.4
        """equation = "5 H2O2 + 2 MnO4^- + 6 H^+ -> 5 O2 + 2 Mn^2+ + 8 H2O"
burette = { solution = "MnO4^-", concentration = 0.0200 }
flask = { solution = "H2O2", aliquot = 20.0 }
result = { of = "H2O2", quantity = "mass concentration", unit = "ppm", significant_figures = 4 }
""",
        ("11.80",),
        "1003",
    ),
    Example(
        "Hardness of water, 2",
        f"{PARADKAR}, EDTA example 2, p. 16",
        HARDNESS.format("0.0280", "28.00", "100.0", "mg/dm3"),
        ("33.00",),
        "330",
    ),
    Example(
        "Hardness of water, 2, after boiling",
        f"{PARADKAR}, EDTA example 2, p. 16",
        HARDNESS.format("0.0280", "28.00", "100.0", "mg/L"),
        ("10.00",),
        "100",
    ),
    Example(
        "Hardness of water, 4",
        f"{PARADKAR}, EDTA example 4, p. 18",
        HARDNESS.format("0.3000", "25.00", "100.0", "ppm"),
        ("18.00",),
        "2160",
    ),
    Example(
        "Hardness of water, 5",
        f"{PARADKAR}, EDTA example 5, p. 19",
        HARDNESS.format("0.0500", "48.00", "50.0", "mg/dm3"),
        ("15.00",),
        "312.5",
    ),
    Example(
        "Hardness of water, 6",
        f"{PARADKAR}, EDTA example 6, p. 20",
        HARDNESS.format("0.0500", "45.00", "50.0", "mg/dm3"),
        ("25.00",),
        "555.55",
        (),
        "the EDTA is 0.01110 mol/dm³ to the four figures that the class is told",
        "555.48",
    ),
    Example(
        "Hardness of water, 8",
        f"{PARADKAR}, EDTA example 8, p. 22",
        HARDNESS.format("0.0240", "35.00", "50.0", "mg/dm3"),
        ("30.00",),
        "411",
    ),
    Example(
        "Hardness of water in g/L",
        f"{SENAPATI}, problem 10, p. 381 (300 mg/L)",
        # 0.01 × 15 ÷ 50 × 100.09 = 0.30026
        """equation = "Ca^2+ + C10H14N2O8^2- -> C10H12CaN2O8^2- + 2 H^+"
burette = { solution = "C10H14N2O8^2-", concentration = 0.01 }
flask = { solution = "Ca^2+", aliquot = 50.0 }
result = { of = "Ca^2+", expressed_as = "CaCO3", quantity = "mass concentration", unit = "g/L" }
""",
        ("15.00",),
        "0.300",
    ),
    Example(
        "Alkalinity of water as calcium carbonate",
        "c2o.pro.br, análise de água, exemplo de cálculo da alcalinidade: 20.0 mL of 0.0100 M HCl, 100 mL of water",
        # 0.0100 × 20.0 ÷ 100 ÷ 2 × 100.09 × 1000 = 100.09
        """equation = "HCO3^- + H^+ -> H2O + CO2"
burette = { solution = "H^+", concentration = 0.0100 }
flask = { solution = "HCO3^-", aliquot = 100.0 }
result = { of = "HCO3^-", expressed_as = "1/2 CaCO3", quantity = "mass concentration", unit = "mg/L", significant_figures = 4 }
""",
        ("20.00",),
        "100.1",
    ),
    Example(
        "Chemical oxygen demand by a known dichromate",
        f"{SENAPATI}, problem 1, p. 401",
        # Carbon stands for what is oxidised: C + O2 -> CO2. 0.001 × 8.3 × 3 ÷ 2 ÷ 25 × 31.998 × 1000 = 15.935
        """equation = "3 C + 2 Cr2O7^2- + 16 H^+ -> 3 CO2 + 4 Cr^3+ + 8 H2O"
burette = { solution = "Cr2O7^2-", concentration = 0.001 }
flask = { solution = "C", aliquot = 25.0 }
result = { of = "C", expressed_as = "O2", quantity = "mass concentration", unit = "mg/L", significant_figures = 4 }
""",
        ("8.30",),
        "15.94",
    ),
    Example(
        "Chemical oxygen demand with a blank",
        f"{PARADKAR}, example 2, p. 73",
        # (27 − 6.5) × 0.1 ÷ 6 × 3 ÷ 2 ÷ 25 × 31.998 = 0.65596
        """equation = "Cr2O7^2- + 6 Fe^2+ + 14 H^+ -> 2 Cr^3+ + 6 Fe^3+ + 7 H2O"
burette = { solution = "Fe^2+", concentration = 0.1 }
flask = { solution = "C", aliquot = 25.0 }
excess = { solution = "Cr2O7^2-", equation = "3 C + 2 Cr2O7^2- + 16 H^+ -> 3 CO2 + 4 Cr^3+ + 8 H2O" }
blank = { titre = 27.0 }
result = { of = "C", expressed_as = "O2", quantity = "mass concentration" }
""",
        ("6.50",),
        "0.656",
    ),
    Example(
        "Dissolved oxygen, less what the reagents pushed out",
        "Determination of biochemical oxygen demand (info.5y1.org): 203 ml stand for 200 ml of water; 0685.com: each ml"
        " of 0.025 N thiosulfate is then 1 mg/L; 300 ml bottle, 2 ml of each of two reagents",
        # 0.025 × 8.00 ÷ 4 ÷ 203 × 32.00 × 1000 × 300 ÷ 296 = 7.99
        """equation = [ "O2 + 2 Mn(OH)2 -> 2 MnO(OH)2", "MnO(OH)2 + 2 I^- + 4 H^+ -> Mn^2+ + I2 + 3 H2O", "I2 + 2 S2O3^2- -> 2 I^- + S4O6^2-" ]
burette = { solution = "S2O3^2-", concentration = 0.025 }
flask = { solution = "O2", aliquot = 203.0, tolerance = 0.5, displaced = { bottle = 300.0, reagents = 4.0 } }
result = { of = "O2", quantity = "mass concentration", unit = "mg/dm3" }
""",
        ("8.00",),
        "8.0",
    ),
    # --- molar mass and water of crystallisation ---
    Example(
        "Molar mass of a monoprotic acid",
        "N. J. Tro, Introductory Chemistry, 5th ed., chapter 14, problem 95, as solved on studysoup.com",
        # 0.125 ÷ (0.1003 × 20.77 ÷ 1000) = 60.00
        """equation = "HA + NaOH -> NaA + H2O"
burette = { solution = "NaOH", concentration = 0.1003 }
flask = { solution = "HA" }
sample = { mass = { column = "Mass" } }
result = { of = "HA", quantity = "molar mass" }
""",
        ("20.77",),
        "60.0",
        (("Mass", "0.125"),),
    ),
    Example(
        "Molar mass of washing soda crystals",
        "physicsforums.com, thread 957591: 3.5 g in 250 cm³, 25.0 cm³ take 24.5 cm³ of 0.1 mol/dm³ HCl (285.7142)",
        # 3.5 ÷ (0.1 × 24.5 ÷ 2 × 10 ÷ 1000) = 285.714
        """equation = "Na2CO3 + 2 HCl -> 2 NaCl + CO2 + H2O"
burette = { solution = "HCl", concentration = 0.1 }
flask = { solution = "Na2CO3", aliquot = 25.0 }
sample = { mass = { column = "Mass" }, made_up_to = 250.0 }
result = { of = "Na2CO3", quantity = "molar mass" }
""",
        ("24.50",),
        "285.714",
        (("Mass", "3.5"),),
    ),
    # --- values per gram ---
    Example(
        "Saponification value, 1",
        f"{PARADKAR}, saponification example 1, p. 33",
        OIL.format("0.4", "49.0"),
        ("26.40",),
        "202.496",
        (("Mass", "2.5"),),
        KOH_56,
        "202.88",
    ),
    Example(
        "Saponification value, 2",
        f"{PARADKAR}, saponification example 2, p. 33",
        OIL.format("0.5", "44.0"),
        ("17.00",),
        "151.2",
        (("Mass", "5.0"),),
        KOH_56,
        "151.49",
    ),
    Example(
        "Saponification value, 4",
        f"{PARADKAR}, saponification example 4, p. 35",
        OIL.format("0.5", "40.0"),
        ("20.00",),
        "224",
        (("Mass", "2.5"),),
    ),
    Example(
        "Saponification value, 6",
        f"{PARADKAR}, saponification example 6, p. 36",
        OIL.format("0.5", "36.0"),
        ("12.00",),
        "224",
        (("Mass", "3"),),
    ),
    Example(
        "Saponification value, 7",
        f"{PARADKAR}, saponification example 7, p. 37",
        OIL.format("0.5", "20.0"),
        ("15.00",),
        "90.32",
        (("Mass", "1.55"),),
        KOH_56,
        "90.49",
    ),
    Example(
        "Acid value, 1",
        f"{PARADKAR}, acid value example 1, p. 27",
        ACID_VALUE.format("0.02"),
        ("2.10",),
        "0.517",
        (("Mass", "4.55"),),
    ),
    Example(
        "Acid value, 2",
        f"{PARADKAR}, acid value example 2, p. 28",
        ACID_VALUE.format("0.02"),
        ("2.40",),
        "0.268",
        (("Mass", "10"),),
        f"{KOH_56}, and cuts the last figure off",
        "0.2693",
    ),
    Example(
        "Acid value, 3",
        f"{PARADKAR}, acid value example 3, p. 28",
        ACID_VALUE.format("0.1"),
        ("2.50",),
        "0.814",
        (("Mass", "17.2"),),
        KOH_56,
        "0.8155",
    ),
    Example(
        "Acid value, 4",
        f"{PARADKAR}, acid value example 4, p. 29",
        ACID_VALUE.format("0.01"),
        ("4.00",),
        "0.243",
        (("Mass", "9.2"),),
    ),
    Example(
        "Acid value, 6",
        f"{PARADKAR}, acid value example 6, p. 30",
        ACID_VALUE.format("0.1"),
        ("2.80",),
        "0.911",
        (("Mass", "17.2"),),
        f"{KOH_56}, and cuts the last figure off",
        "0.9134",
    ),
    # --- solubility product ---
    Example(
        "Calcium hydroxide, saturated",
        "a question after T. L. Brown and others, Chemistry: The Central Science, worked at tutor.hix.ai",
        # 0.0983 × 11.13 ÷ 60.00 = 0.018235 = c(OH⁻); ÷ 2 × 0.018235² = 3.0317e-6
        """equation = "Ca(OH)2 + 2 HCl -> CaCl2 + 2 H2O"
burette = { solution = "HCl", concentration = 0.0983 }
flask = { solution = "Ca(OH)2", aliquot = 60.00, tolerance = 0.1 }
result = { of = "Ca(OH)2", quantity = "solubility product" }
""",
        ("11.13",),
        "3.03E-6",
    ),
    # --- volume strength ---
    Example(
        "Volume strength, one for each cm³",
        "J. S. Reichert and others, Ind. Eng. Chem. Anal. Ed. 1939, 11, 194: 1 cc, 0.1786 N permanganate",
        # 0.1786 ÷ 5 × 10 × 5 ÷ 2 ÷ 1 ÷ 2 × 22.4 = 10.00
        """equation = "5 H2O2 + 2 MnO4^- + 6 H^+ -> 5 O2 + 2 Mn^2+ + 8 H2O"
burette = { solution = "MnO4^-", concentration = 0.03572 }
flask = { solution = "H2O2", aliquot = 1.0 }
result = { of = "H2O2", quantity = "volume strength" }
""",
        ("10.00",),
        "10.0",
    ),
    Example(
        "Volume strength by iodine, a chain of two reactions",
        "physicsforums.com, thread 871118: 25 ml, 20 ml of 0.3 N thiosulfate; the answer given is double 0.672",
        # 0.3 × 20 ÷ 2 ÷ 25 ÷ 2 × 22.4 = 1.344
        """equation = [ "H2O2 + 2 I^- + 2 H^+ -> I2 + 2 H2O", "I2 + 2 S2O3^2- -> 2 I^- + S4O6^2-" ]
burette = { solution = "S2O3^2-", concentration = 0.3 }
flask = { solution = "H2O2", aliquot = 25.0 }
result = { of = "H2O2", quantity = "volume strength", significant_figures = 4 }
""",
        ("20.00",),
        "1.344",
    ),
    # --- back titrations of portions; and what was not at hand ---
    Example(
        "Ammonia in a cleaner",
        'Socratic, "How can I make back titration calculations?" (2015): 25.00 mL, 50.00 mL of 0.1000 M HCl',
        # (0.1000 × 50.00 − 0.1000 × 21.50) ÷ 25.00 = 0.1140
        """equation = "HCl + NaOH -> NaCl + H2O"
burette = { solution = "NaOH", concentration = 0.1000 }
flask = { solution = "NH3", aliquot = 25.0 }
excess = { solution = "HCl", equation = "NH3 + HCl -> NH4Cl", concentration = 0.1000, volume = 50.0 }
result = { of = "NH3", significant_figures = 4 }
""",
        ("21.50",),
        "0.1140",
    ),
    Example(
        "Chalk by acid in excess",
        'LibreTexts, ASDL activity "Back Titration": 0.125 g; the percentage recomputed, from memory, from its amounts',
        # (0.200 × 50.0 − 0.250 × 32.12) ÷ 2 ÷ 1000 × 100.09 ÷ 0.125 × 100 = 78.87
        """equation = "HCl + NaOH -> NaCl + H2O"
burette = { solution = "NaOH", concentration = 0.250 }
flask = { solution = "HCl" }
excess = { solution = "HCl", equation = "CaCO3 + 2 HCl -> CaCl2 + H2O + CO2", concentration = 0.200, volume = 50.0 }
sample = { mass = { column = "Mass" } }
result = { of = "CaCO3", quantity = "percent by mass" }
""",
        ("32.12",),
        "78.9",
        (("Mass", "0.125"),),
    ),
    Example(
        "Iodide by silver in excess",
        f"{HARVEY}: 0.6712 g, 50.00 mL of 0.05619 M AgNO3, 35.14 mL of 0.05322 M KSCN",
        # (0.05619 × 50.00 − 0.05322 × 35.14) ÷ 1000 × 126.90 ÷ 0.6712 × 100 = 17.76
        """equation = "Ag^+ + SCN^- -> AgSCN"
burette = { solution = "SCN^-", concentration = 0.05322 }
flask = { solution = "Ag^+" }
excess = { solution = "Ag^+", equation = "Ag^+ + I^- -> AgI", concentration = 0.05619, volume = 50.0 }
sample = { mass = { column = "Mass" } }
result = { of = "I^-", quantity = "percent by mass", significant_figures = 4 }
""",
        ("35.14",),
        "17.76",
        (("Mass", "0.6712"),),
    ),
    Example(
        "Protein in cheese by acid in excess",
        f"{HARVEY}: 0.9814 g, 50.00 mL of 0.1047 M HCl, 22.84 mL of 0.1183 M NaOH",
        # (0.1047 × 50.00 − 0.1183 × 22.84) ÷ 1000 × 14.007 ÷ 0.9814 × 100 × 6.38 = 23.07
        """equation = "HCl + NaOH -> NaCl + H2O"
burette = { solution = "NaOH", concentration = 0.1183 }
flask = { solution = "HCl" }
excess = { solution = "HCl", equation = "NH3 + HCl -> NH4Cl", concentration = 0.1047, volume = 50.0 }
sample = { mass = { column = "Mass" } }
result = { of = "NH3", expressed_as = "N", quantity = "percent by mass", factor = 6.38, factor_name = "protein factor" }
""",
        ("22.84",),
        "23.1",
        (("Mass", "0.9814"),),
    ),
    Example(
        "Citric acid in a drink",
        f"{HARVEY}: 50.00 mL, 17.62 mL of 0.04166 M NaOH",
        # 0.04166 × 17.62 ÷ 3 ÷ 50.00 × 192.12 ÷ 10 = 0.09402
        """equation = "C6H8O7 + 3 NaOH -> Na3C6H5O7 + 3 H2O"
burette = { solution = "NaOH", concentration = 0.04166 }
flask = { solution = "C6H8O7", aliquot = 50.0 }
result = { of = "C6H8O7", quantity = "percent mass by volume", significant_figures = 4 }
""",
        ("17.62",),
        "0.09402",
    ),
    Example(
        "Salicylic acid",
        f"{HARVEY}: 0.4208 g, 21.92 mL of 0.1354 M NaOH",
        # 0.1354 × 21.92 ÷ 1000 × 138.12 ÷ 0.4208 × 100 = 97.42
        """equation = "C7H6O3 + NaOH -> NaC7H5O3 + H2O"
burette = { solution = "NaOH", concentration = 0.1354 }
flask = { solution = "C7H6O3" }
sample = { mass = { column = "Mass" } }
result = { of = "C7H6O3", quantity = "percent by mass", significant_figures = 4 }
""",
        ("21.92",),
        "97.41",
        (("Mass", "0.4208"),),
    ),
    Example(
        "Iron in an ore as iron(III) oxide",
        f"{HARVEY}: 0.4891 g, 36.92 mL of 0.02153 M dichromate",
        # 0.02153 × 36.92 × 6 ÷ 2 ÷ 1000 × 159.69 ÷ 0.4891 × 100 = 77.86
        """equation = "Cr2O7^2- + 6 Fe^2+ + 14 H^+ -> 2 Cr^3+ + 6 Fe^3+ + 7 H2O"
burette = { solution = "Cr2O7^2-", concentration = 0.02153 }
flask = { solution = "Fe^2+" }
sample = { mass = { column = "Mass" } }
result = { of = "Fe^2+", expressed_as = "1/2 Fe2O3", quantity = "percent by mass", significant_figures = 4 }
""",
        ("36.92",),
        "77.86",
        (("Mass", "0.4891"),),
    ),
    Example(
        "Bleach, diluted to a litre",
        f"{HARVEY}: 25.00 mL to 1000 mL, 25.00 mL take 8.96 mL of 0.09892 M thiosulfate",
        # 0.09892 × 8.96 ÷ 2 ÷ 25 × 1000 ÷ 25 × 74.44 ÷ 10 = 5.278
        """equation = [ "ClO^- + 2 I^- + 2 H^+ -> I2 + Cl^- + H2O", "I2 + 2 S2O3^2- -> 2 I^- + S4O6^2-" ]
burette = { solution = "S2O3^2-", concentration = 0.09892 }
flask = { solution = "ClO^-", aliquot = 25.0, dilution = { taken = 25.0, made_up_to = 1000.0 } }
result = { of = "ClO^-", expressed_as = "NaClO", quantity = "percent mass by volume" }
""",
        ("8.96",),
        "5.28",
    ),
    Example(
        "EDTA by a solution of weighed calcium carbonate",
        f"{HARVEY}: 0.4071 g in 500 mL, 50.00 mL taken, 42.63 mL",
        # 0.4071 ÷ 100.09 × 50.00 ÷ 500 × 1000 ÷ 42.63 = 0.009541
        """equation = "CaCO3 + C10H14N2Na2O8 -> C10H12CaN2Na2O8 + CO2 + H2O"
burette = { solution = "C10H14N2Na2O8" }
flask = { solution = "CaCO3", aliquot = 50.0 }
sample = { mass = { column = "Mass" }, made_up_to = 500.0 }
result = { of = "C10H14N2Na2O8", significant_figures = 4 }
""",
        ("42.63",),
        "0.009541",
        (("Mass", "0.4071"),),
    ),
    Example(
        "Hardness of water by a known EDTA",
        f"{HARVEY}: 100.0 mL, 23.63 mL of 0.0109 M",
        # 0.0109 × 23.63 ÷ 100.0 × 100.09 × 1000 = 257.8
        """equation = "Ca^2+ + C10H14N2O8^2- -> C10H12CaN2O8^2- + 2 H^+"
burette = { solution = "C10H14N2O8^2-", concentration = 0.0109 }
flask = { solution = "Ca^2+", aliquot = 100.0 }
result = { of = "Ca^2+", expressed_as = "CaCO3", quantity = "mass concentration", unit = "mg/L" }
""",
        ("23.63",),
        "258",
    ),
    Example(
        "Calcium carbonate in an antacid tablet",
        "anonymous question page on the web, read as an excerpt: 75 mL of 0.1746 M HCl, 27.2 mL of 0.09767 M NaOH",
        """equation = "HCl + NaOH -> NaCl + H2O"
burette = { solution = "NaOH", concentration = 0.09767 }
flask = { solution = "HCl" }
excess = { solution = "HCl", equation = "CaCO3 + 2 HCl -> CaCl2 + H2O + CO2", concentration = 0.1746, volume = 75.0, tolerance = 0.1 }
sample = { items = 1 }
result = { of = "CaCO3", quantity = "mass per item", significant_figures = 4 }
""",
        ("27.20",),
        "0.5219",
        differs="the source takes 100 g/mol for calcium carbonate",
        # (0.1746 × 75 − 0.09767 × 27.2) ÷ 2 ÷ 1000 × 100.09
        by_hand="0.5224",
    ),
    Example(
        "Water in ethanedioic acid crystals, the unknown in the burette",
        "anonymous question page on the web, read as an excerpt: oxalic acid of 5.04 g/dm³ with sodium hydroxide of 0.090 mol/dm³: x = 2",
        # M = 5.04 ÷ 0.039718 = 126.9; (126.9 − 90.03) ÷ 18.015 = 2.05
        """equation = "H2C2O4 + 2 NaOH -> Na2C2O4 + 2 H2O"
burette = { solution = "H2C2O4" }
flask = { solution = "NaOH", concentration = 0.090, aliquot = 10.0 }
sample = { mass = 5.04, made_up_to = 1000.0 }
result = { of = "H2C2O4", quantity = "water of crystallisation" }
""",
        ("11.33",),
        "2",
    ),
)
