"""Reads a class sheet, whatever its layout, into two tables and a ledger of cells."""
