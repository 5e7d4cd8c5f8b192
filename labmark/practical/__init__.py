"""The practical: equation, solutions, glassware, marking scheme; from a file or from a sheet."""

from labmark.practical.load import Practical, own_numbers, practical_from_rows, practical_from_toml
from labmark.practical.model import PracticalFile
from labmark.practical.own import OwnNumber

__all__ = ["OwnNumber", "Practical", "PracticalFile", "own_numbers", "practical_from_rows", "practical_from_toml"]
