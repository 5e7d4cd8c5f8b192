"""Layouts of class sheets: finding the tables on a sheet and reading each one, whichever way round it stands."""
