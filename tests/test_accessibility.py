"""The report in a real browser: axe-core at both widths, light and dark, the keyboard, zoom, text spacing, the filters.

Runs where Chromium, playwright (the extra `test`) and axe-core are: `npm install --prefix .axe axe-core`, as `.ci/run` does.
"""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from labmark.outputs.chart import distribution
from labmark.outputs.report import report
from labmark.places import templates_folder
from tests.classes import sample
from tests.example_tree import example_tree

AXE = Path(__file__).parent.parent / ".axe/node_modules/axe-core/axe.min.js"
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None, reason="Chromium is not installed"),
]
SPACED = "* { line-height: 1.5 !important; letter-spacing: 0.12em !important; word-spacing: 0.16em !important }"
"""WCAG 2.2, success criterion 1.4.12."""
SIGNS = {"nonBmp", "shortTextContent", "imgNode"}
"""What axe-core leaves to a person: single signs, and letters in our own drawings. Reviewed here: each has one of the
inks whose contrast `test_every_ink_stands_out_from_every_ground` works out."""


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    """The page of the example, as a file."""
    tree = example_tree()
    page = tmp_path_factory.mktemp("report") / "report.html"
    page.write_text(report(tree, distribution(tree)), encoding="utf-8")
    return page.as_uri()


@pytest.fixture(scope="module")
def browser():
    """Chromium without a window."""
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed: see the extra `test`")
    with playwright.sync_playwright() as started:
        opened = started.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture
def show(browser, address):
    """Return a function that opens the page at a width, in a scheme, with every fold open."""
    pages = []

    def opened(width=1440, scheme="light"):
        page = browser.new_page(viewport={"width": width, "height": 900}, color_scheme=scheme)
        page.set_default_timeout(120_000)
        page.goto(address)
        page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true })")
        page.evaluate("document.getElementById('addresses').checked = true")
        pages.append(page)
        return page

    yield opened
    for page in pages:
        page.close()


def inks(scheme):
    style = (templates_folder() / "report.css").read_text(encoding="utf-8")
    colours = dict(
        re.findall(r"--(\w+): #([0-9a-f]{6})", re.findall(r":root \{(.*?)\}", style, re.S)[scheme == "dark"])
    )
    parts = (colours[name] for name in ("ink", "soft", "accent", "fault", "check"))
    return {"rgb({}, {}, {})".format(*(int(part[n : n + 2], 16) for n in (0, 2, 4))) for part in parts}


@pytest.mark.skipif(not AXE.exists(), reason="axe-core is not installed: npm install --prefix .axe axe-core")
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1440, 360])
def test_axe_finds_nothing_and_leaves_no_contrast_unreviewed(show, width, scheme):
    page = show(width, scheme)
    page.evaluate(AXE.read_text(encoding="utf-8"))
    found = page.evaluate("axe.run({ resultTypes: ['violations', 'incomplete'] })")
    assert [(each["id"], each["nodes"][0]["html"]) for each in found["violations"]] == []
    for node in (node for each in found["incomplete"] if each["id"] == "color-contrast" for node in each["nodes"]):
        assert node["any"][0]["data"]["messageKey"] in SIGNS, node["html"]
        drawn = "one => { const s = getComputedStyle(one); return one.closest('svg') ? s.fill : s.color }"
        assert page.eval_on_selector(node["target"][-1], drawn) in inks(scheme), node["html"]


def test_the_keyboard_alone_goes_from_top_to_bottom(show):
    page = show()
    wanted = page.evaluate(
        "[...document.querySelectorAll('a[href], button:not(:disabled), input, summary, [tabindex=\"0\"]')]"
        ".filter(one => one.checkVisibility()).map((one, place) => { one.dataset.place = place; return place })"
    )
    seen = []
    for _ in range(len(wanted)):
        page.keyboard.press("Tab")
        place, outline = page.evaluate(
            "[document.activeElement.dataset.place, getComputedStyle(document.activeElement).outlineStyle]"
        )
        assert outline != "none" or place == "0"  # the link that skips shows itself by moving into sight
        seen.append(int(place))
    assert seen == wanted


def test_marks_by_criterion_that_wait_are_read_without_scrolling_on_a_small_screen(browser, tmp_path):
    tree = sample("drain-cleaner.xlsx")
    (tmp_path / "report.html").write_text(report(tree, distribution(tree)), encoding="utf-8")
    page = browser.new_page(viewport={"width": 1200, "height": 900})
    page.goto((tmp_path / "report.html").as_uri())
    table = page.locator(".scroll", has_text="Marks by criterion").filter(has_text="4 being checked")
    assert table.evaluate_all("all => all.map(one => one.scrollWidth > one.clientWidth)") == [False]
    page.close()


@pytest.mark.parametrize("width", [1440, 720, 360])  # 720: what 200 % leaves of 1440
@pytest.mark.parametrize("spaced", [False, True])
def test_nothing_is_cut_at_twice_the_size_nor_with_wider_spacing(show, width, spaced):
    page = show(width)
    if spaced:
        page.evaluate("rule => document.styleSheets[0].insertRule(rule)", SPACED)
        page.evaluate("window.dispatchEvent(new Event('resize'))")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    cut = page.evaluate(
        "[...document.querySelectorAll('main :is(p, h2, h3, td, th, dd, summary, span, button)')]"
        ".filter(one => one.checkVisibility() && !one.closest('.hidden, .scroll:not(.fits), thead')"
        " && one.getBoundingClientRect().right > innerWidth + 1).map(one => one.outerHTML.slice(0, 90))"
    )
    assert cut == []


def test_the_table_filters_finds_sorts_and_goes_back_to_the_order_of_the_sheet(show):
    page = show()
    names = "[...document.querySelectorAll('#students-table tbody tr:not([hidden]) th')].map(one => one.textContent)"
    order = page.evaluate(names)
    page.click("[data-only=look]")
    look = [one["student"] for one in example_tree()["students"] if one["attention"]]
    assert page.evaluate(names) == look
    assert page.inner_text("#said") == f"{len(look)} of {len(order)} students shown"
    page.click("[data-only=all]")
    page.fill("#find", order[0].lower())
    assert page.evaluate(names) == [order[0]]
    page.fill("#find", "")
    page.click("#students-table thead button >> text=Error")
    assert page.evaluate(names) != order
    page.click("#sheet-order")
    assert page.evaluate(names) == order
