"""Words that the teacher's columns in marks.xlsx are headed with, in every language that students read.

A row is found by the first words of its sheet, and a decision by the second.
"""

from __future__ import annotations

Words = dict[str, tuple[str, ...]]

_STUDENT = ("Student", "Schüler", "Schülerin", "Élève", "Étudiant", "Estudiante", "Alumno")
_RUN = ("Run", "Versuch", "Durchgang", "Essai", "Ensayo")
_KEY = ("Key", "Schlüssel", "Clé", "Clave")

SHEETS: dict[str, tuple[Words, Words]] = {
    "Marks": (
        {"student": _STUDENT, "ID": ("ID",)},
        {
            "comment": ("Comment", "Kommentar", "Commentaire", "Comentario"),
            "note": ("Private note", "Private Notiz", "Note privée", "Nota privada"),
            "excused": ("Excused", "Entschuldigt", "Excusé", "Disculpado"),
        },
    ),
    "Runs": (
        {"student": _STUDENT, "run": _RUN},
        {
            "use": ("Use", "Verwenden", "Utiliser", "Usar"),
            "initial": ("Initial is", "Anfang ist", "Initial est", "Inicial es"),
            "final": ("Final is", "Ende ist", "Final est", "Final es"),
        },
    ),
    "Findings": (
        {"student": _STUDENT, "run": _RUN, "of": ("Finding", "Befund", "Constat", "Hallazgo"), "about": _KEY},
        {"aside": ("Aside", "Verworfen", "Écarté", "Descartado")},
    ),
    "Inputs": (
        {"student": _STUDENT, "run": _RUN, "of": ("Input", "Eigene Zahl", "Donnée", "Dato")},
        {"input": ("Is", "Ist", "Est", "Es")},
    ),
    "Class": (
        {"of": ("Figure", "Kennzahl", "Grandeur", "Cifra")},
        {"reference": ("Reference is", "Referenz ist", "Référence est", "Referencia es")},
    ),
    "Decisions": (
        {"student": _STUDENT, "of": _KEY},
        {"back": ("Take back", "Zurücknehmen", "Annuler", "Retirar")},
    ),
}
"""Sheet -> words that find a row, and the teacher's columns; marks are headed by their criteria besides."""
YES = frozenset({"yes", "y", "ja", "j", "oui", "o", "si", "s", "true", "1", "✓", "✔", "x"})
NO = frozenset({"no", "n", "nein", "non", "false", "0", "✗", "✘"})
