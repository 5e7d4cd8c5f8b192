"""Writes the marked folder from the record tree. Computes nothing."""
