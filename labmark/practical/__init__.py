"""The practical: equation, solutions, glassware, marking scheme; from a file or a sheet."""
