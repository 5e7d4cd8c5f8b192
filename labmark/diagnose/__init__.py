"""Finds what most likely went wrong, at the bench or in the working. Pure."""
