"""Reading whatever spreadsheet the teacher has: every filled cell is used, or ignored or rejected with a reason."""

from labmark.read.classes import read_class
from labmark.read.files import load_book
from labmark.read.mapping import mapping_text
from labmark.read.practical_sheet import read_practical_sheet
from labmark.read.remarks import burette_read

__all__ = ["burette_read", "load_book", "mapping_text", "read_class", "read_practical_sheet"]
