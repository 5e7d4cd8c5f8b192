"""Files saved by a spreadsheet program that is not ours, in two locales, give the same class to the microlitre."""

from __future__ import annotations

from pathlib import Path

import pytest

from labmark.read import read_class
from tests.layouts import VARIANTS
from tests.office import converted, needs_office
from tests.test_read_layouts import check_ledger, expected, facts

pytestmark = [pytest.mark.slow, needs_office]

SAVED = (
    "plain workbook",
    "plain .ods",
    "two header rows, merged",
    "long, name merged",
    "lab-book blocks",
    "students across",
    "title, class mean, notes, key",
    "German workbook",
    "hidden row and column",
    "pandas and XlsxWriter",
)
LOCALES = {"en-GB": (2057, 44), "de-DE": (1031, 59)}
"""Locale -> its number in the text filter, and the delimiter usual there. Source: LibreOffice help, filter options."""
PROFILE = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry">
<item oor:path="/org.openoffice.Setup/L10N">
<prop oor:name="ooSetupSystemLocale" oor:op="fuse"><value>{}</value></prop>
</item>
</oor:items>
"""


def save(sources: list[Path], ending: str, locale: str, folder: Path) -> Path:
    """Let the program open each file and save it in another format."""
    profile = folder / "profile"
    (profile / "user").mkdir(parents=True)
    (profile / "user" / "registrymodifications.xcu").write_text(PROFILE.format(locale))
    number, delimiter = LOCALES[locale]
    # delimiter, quotation mark, UTF-8, first line, formats, language, quote all, as shown
    target = f"csv:Text - txt - csv (StarCalc):{delimiter},34,76,1,,{number},false,true" if ending == "csv" else ending
    return converted(sources, target, folder / "out", profile)


@pytest.fixture(scope="module")
def sources(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("sources")
    found = {}
    for number, name in enumerate(SAVED):
        place = folder / str(number)
        place.mkdir()
        path = VARIANTS[name](place)
        found[name] = path.rename(folder / f"v{number}{path.suffix}")
    return found


@pytest.mark.parametrize("locale", LOCALES)
@pytest.mark.parametrize("ending", ["xlsx", "ods", "csv"])
def test_a_class_saved_by_another_program_reads_the_same(
    sources: dict[str, Path], tmp_path: Path, ending: str, locale: str
) -> None:
    out = save(list(sources.values()), ending, locale, tmp_path)
    for name, source in sources.items():
        sheet = read_class(out / f"{source.stem}.{ending}")
        runs, students = facts(sheet, UNKNOWN if name in WITHOUT_FORMATS else frozenset())
        wanted_runs, wanted_students = expected(UNKNOWN if name in WITHOUT_FORMATS else frozenset())
        assert runs == wanted_runs, name
        if name not in WITHOUT_FORMATS:
            assert students == wanted_students, name
        check_ledger(sheet)


WITHOUT_FORMATS = frozenset({"pandas and XlsxWriter"})
"""Its readings are texts without a number format: their digits are not compared."""
UNKNOWN = frozenset({"initial_decimals", "final_decimals", "titre_decimals"})
