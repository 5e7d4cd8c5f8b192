"""Where the templates and the data tables are: inside the installed package, or in the source tree."""

from functools import cache
from pathlib import Path

_LANGUAGES = Path(__file__).resolve().parent / "languages"


@cache
def templates_folder() -> Path:
    """Return the folder of templates: the installed one first, then the source tree's.

    A wheel carries the top-level `templates/` as `labmark/templates/`; an editable install has only the former.
    """
    package = Path(__file__).resolve().parent
    for folder in (package / "templates", package.parent / "templates"):
        if folder.is_dir():
            return folder
    raise FileNotFoundError(f"no templates folder in {package} or beside it; install labmark again")


def practicals_folder() -> Path:
    """Return the folder of the practicals that ship with labmark."""
    return templates_folder() / "practicals"


def packaged_text(name: str) -> str:
    """Return the text of a data table that comes with the code, named from the package: "diagnose/...toml"."""
    return (Path(__file__).resolve().parent / name).read_text(encoding="utf-8")


@cache
def languages() -> tuple[str, ...]:
    """Return the languages that there are words in: English, and each that has a catalogue.

    One whose head is marked fuzzy is being worked on, as is usual in gettext's format: it is not offered yet.
    """
    return ("en", *sorted(path.stem for path in _LANGUAGES.glob("*.po") if b"#, fuzzy" not in path.read_bytes()[:400]))


def language_file(name: str) -> Path:
    """Return the catalogue of a language."""
    return _LANGUAGES / f"{name}.po"
