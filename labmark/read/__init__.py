"""Reading whatever spreadsheet the teacher has: every filled cell is used, ignored with a reason, or rejected with a reason."""

from labmark.read.classes import mapping_text, read_class, read_practical_sheet

__all__ = ["mapping_text", "read_class", "read_practical_sheet"]
