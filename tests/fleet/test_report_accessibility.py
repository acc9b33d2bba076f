"""An audit's page in a browser: WCAG 2.2 level AA, as far as a machine can tell.

axe-core judges it (``wcag.py``); reflow, names that lie
on each other in a picture, the keyboard and print, which it does not try, are tried
here. Numbers of success criteria are those of WCAG 2.2 (W3C Recommendation, 2023).
"""

from dataclasses import replace
from importlib.util import find_spec

import invented_audit
import pytest
from conftest import CHROMIUM
from wcag import judged

from auditkit.fleet.audited import Audit, Column, Section, Table
from auditkit.fleet.report.page import audit_page

pytestmark = pytest.mark.skipif(
    not (CHROMIUM and find_spec("playwright") and find_spec("axe_playwright_python")),
    reason="playwright, axe-playwright-python or chromium is absent",
)
PAGES = {invented_audit.DIGEST: "orders/one.html"}
LONG = "An invented shop with a very long name of its own, Northern Yard, Gate {}"


def long_named():
    """Return the audit with long names, in charts, tables and headings."""
    made = invented_audit.audit(2, ())
    names = tuple(LONG.format(i) for i in range(5))
    strip = invented_audit.strip()
    strip = replace(strip, up=replace(strip.up, members=names), beside=names)
    funnel = invented_audit.funnel(12, LONG, 8)
    survival = invented_audit.survival()
    lines = tuple(
        replace(line, name=LONG.format(i)) for i, line in enumerate(survival.lines)
    )
    charts = (
        strip,
        funnel,
        replace(survival, lines=lines),
        invented_audit.timeline(),
        invented_audit.digits(),
    )
    section = Section("long", LONG.format(1) * 3, (LONG.format(2) * 9,), (), charts)
    word = Section("word", "W" * 300, ("w" * 900,), (), ())
    return replace(made, sections=(*made.sections, section, word))


def many_columns():
    """Return an audit with a table as wide as that of shops' comebacks."""
    names = (
        *("shop", "repairs followed", "not followed", "came back", "expected"),
        *("seen / expected", "95 % interval from", "to", "deviations away"),
        *("chance among so many shops", "what is said"),
    )
    columns = tuple(Column(n, n, decimals=2) for n in names)
    rows = tuple(
        (f"Shop {n}", 120, 0, 9, 11.5, 0.78, 0.36, 1.49, -0.8, 0.87, "asks for a look")
        for n in range(1, 13)
    )
    table = Table("standings", "Comebacks, by shop", columns, rows)
    digests = ("shop", "order", "days", "seen again by", *"abc", "packet", "its packet")
    opened = Table(
        "opened",
        "Each fault that came back",
        tuple(Column(n, n) for n in digests),
        (("Shop 1", "RO-1", 60, "Shop 2", "x", "y", "z", *(["0f" * 32] * 2)),),
    )
    empty = tuple(Column(n, n) for n in ("shop", "repairs", "share", "others", "asks"))
    few = tuple((f"Shop {n}", 5, None, None, None) for n in range(1, 4))
    section = Section(
        "shops", "Shops", ("s",), (table, opened, Table("few", "Too few", empty, few))
    )
    first = Section("first", "In short", ("s",))
    return Audit("Many columns", (first, section), ())


AUDITS = {
    "many columns": many_columns,
    "3 shops": lambda: invented_audit.audit(3),
    "200 shops": lambda: invented_audit.audit(200),
    "no shop": lambda: invented_audit.audit(0, ()),
    "nothing": lambda: Audit("Nothing", (), ()),
    "long names": long_named,
}


@pytest.fixture(scope="module")
def shown(browser, tmp_path_factory):
    """Return a function that gives an audit's page in a window of a width.

    It is opened once; whoever changes it asks for one ``anew``.
    """
    folder = tmp_path_factory.mktemp("audits")
    contexts = []
    opened = {}

    def show(name, width, media="screen", *, anew=False):
        if not anew and (name, width, media) in opened:
            return opened[name, width, media]
        place = folder / "audit.html"
        audit = AUDITS[name]()
        place.write_text(audit_page(audit, PAGES), encoding="utf-8")
        # The page's own policy lets in no script, so neither that of the test.
        context = browser.new_context(
            bypass_csp=True, viewport={"width": width, "height": 640}
        )
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(20_000)
        page.goto(place.as_uri())
        page.emulate_media(media=media)
        # Each looks like the others: two are enough, and axe is slow on many cells.
        page.evaluate(
            "[...document.querySelectorAll('details')].slice(0, 2)"
            ".forEach((d) => d.open = true)"
        )
        if not anew:
            opened[name, width, media] = page
        return page

    yield show
    for context in contexts:
        context.close()


def faults_of(page, rule=""):
    """Return axe's answer, but for the words of pictures: they are tested below."""
    # What a narrow window scrolls out of sight in a table is decided in a wide one.
    is_narrow = page.viewport_size["width"] < 700
    in_table = ("<td", "<th", "<bdi", '<a href="orders/')
    return judged(
        page,
        rule=rule,
        apart="svg text",
        is_excused=lambda node: is_narrow and node["html"].startswith(in_table),
    )


@pytest.mark.parametrize(
    ("name", "width", "media"),
    [
        *(("3 shops", width, "screen") for width in (320, 1280)),
        ("3 shops", 794, "print"),
        ("no shop", 800, "screen"),
        ("nothing", 320, "screen"),
        ("long names", 320, "screen"),
    ],
)
def test_axe_finds_no_fault(shown, name, width, media):
    passed, faults = faults_of(shown(name, width, media))
    assert faults == []
    assert {"color-contrast", "document-title", "html-has-lang"} <= passed


@pytest.mark.parametrize(
    ("rule", "script"),
    [
        ("svg-img-alt", "document.querySelector('svg').removeAttribute('aria-label')"),
        ("color-contrast", "document.querySelector('p').style.color = '#999'"),
        (
            "scrollable-region-focusable",
            "document.querySelectorAll('.drawn').forEach((e) => e.tabIndex = -1)",
        ),
        ("heading-order", "document.querySelector('h2').outerHTML = '<h5>x</h5>'"),
    ],
)
def test_axe_finds_planted_faults(shown, rule, script):
    page = shown("3 shops", 320, anew=True)
    page.evaluate(script)
    _, faults = faults_of(page, rule)
    assert rule in {fault.partition(":")[0] for fault in faults}


@pytest.mark.parametrize("name", AUDITS)
def test_the_page_is_never_scrolled_sideways(shown, name):
    """1.4.10; tables and pictures, which need two dimensions, scroll by themselves."""
    page = shown(name, 1280, anew=True)
    page.evaluate("document.querySelectorAll('details').forEach((d) => d.open = true)")
    wide = {}
    for width in (1280, 800, 320):
        page.set_viewport_size({"width": width, "height": 640})
        wide[width] = page.evaluate("document.documentElement.scrollWidth")
    assert [width for width, found in wide.items() if found > width] == []


# The words of each picture that lie on another's, in the browser's own font; and those
# that lie outside their picture.
ON_EACH_OTHER = """() => {
  const found = [];
  for (const svg of document.querySelectorAll("svg")) {
    const outer = svg.getBoundingClientRect();
    const boxes = [...svg.querySelectorAll("text")].filter((t) => t.textContent)
      .map((t) => [t.textContent, t.getBoundingClientRect()]);
    for (const [said, r] of boxes)
      if (r.left < outer.left - 1 || r.right > outer.right + 1 ||
          r.top < outer.top - 1 || r.bottom > outer.bottom + 1)
        found.push(`outside: ${said}`);
    boxes.forEach(([one, a], i) => boxes.slice(i + 1).forEach(([two, b]) => {
      const across = Math.min(a.right, b.right) - Math.max(a.left, b.left);
      const down = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
      if (across > 1 && down > 3) found.push(`${one} / ${two}`);
    }));
  }
  return found;
}"""


@pytest.mark.parametrize("name", ["3 shops", "200 shops", "long names"])
def test_no_word_of_a_picture_lies_on_another(shown, name):
    page = shown(name, 1280)
    assert page.evaluate("document.querySelectorAll('svg').length") > 4
    assert page.evaluate(ON_EACH_OTHER) == []


def test_words_on_each_other_are_found(shown):
    page = shown("3 shops", 1280, anew=True)
    page.evaluate("document.querySelectorAll('svg text')[3].setAttribute('y', 0)")
    page.evaluate("document.querySelectorAll('svg text')[4].setAttribute('x', 9999)")
    assert page.evaluate(ON_EACH_OTHER) != []


def test_keyboard_reaches_links_tables_pictures_and_what_is_folded(shown):
    """2.1.1, 2.4.7: in the order of the text, and seen where it is."""
    page = shown("3 shops", 800)
    usable = page.evaluate(
        "[...document.querySelectorAll('a[href], summary, [tabindex=\"0\"]')]"
        ".filter((e) => e.checkVisibility()).length"
    )
    seen = []
    for _ in range(usable + 5):
        page.keyboard.press("Tab")
        found = page.evaluate(
            "() => { const e = document.activeElement; const s = getComputedStyle(e);"
            "return e === document.body ? null : [e.tagName, s.outlineStyle,"
            "parseFloat(s.outlineWidth)]; }"
        )
        if found is None:
            break
        seen.append(found)
    assert len(seen) == usable
    assert {tag for tag, _, _ in seen} == {"A", "SUMMARY", "DIV"}
    assert all(style != "none" and thick >= 2 for _, style, thick in seen)


def test_on_paper_the_first_sheet_is_for_who_decides(shown, tmp_path):
    import pypdf

    page = shown("3 shops", 794, "print")
    place = tmp_path / "printed.pdf"
    page.pdf(path=str(place), prefer_css_page_size=True)
    sheets = pypdf.PdfReader(place).pages
    first = " ".join(sheets[0].extract_text().split())
    assert "94.9 in 100 held for 180 days" in first
    assert "26,001 packets" not in first
    assert len(sheets) > 4
    assert (round(sheets[0].mediabox.width), round(sheets[0].mediabox.height)) == (
        595,
        842,
    )


def test_the_last_column_of_a_table_of_many_needs_no_scrolling(shown):
    """What is said of a shop stands there."""
    page = shown("many columns", 900)
    seen = page.evaluate(
        "[...document.querySelectorAll('.wide')].map(e => [e.clientWidth, "
        "e.scrollWidth, e.querySelectorAll('thead th').length])"
    )
    assert [count for *_, count in seen] == [11, 9, 5]
    assert [row for row in seen if row[1] > row[0]] == []


def test_what_says_nothing_of_anybody_is_one_line_to_open(shown):
    page = shown("many columns", 900)
    assert page.locator("summary").all_text_contents() == [
        "Contents: 3 parts",
        "Too few: too few to say anything of anybody, 3 rows",
    ]
    assert page.locator("details td").count() == 12
