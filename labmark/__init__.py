"""labmark marks a class titration from its spreadsheet.

The stages, in order: read the class sheet and the practical file; work out titres, concordant sets and
results; look at the class as a whole; find what most likely went wrong; mark with errors carried forward;
write the folder. `labmark.pipeline` is the whole program on one page.
"""

__version__ = "0.1.0"
