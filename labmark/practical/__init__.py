"""The practical: equation, solutions, glassware, marking scheme; from a file or from a sheet."""

from labmark.practical.file import PracticalFile
from labmark.practical.load import practical_from_rows, practical_from_toml
from labmark.practical.own import OwnNumber
from labmark.practical.record import Practical, own_numbers, with_burette

__all__ = [
    "OwnNumber",
    "Practical",
    "PracticalFile",
    "own_numbers",
    "practical_from_rows",
    "practical_from_toml",
    "with_burette",
]
