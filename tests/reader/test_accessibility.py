"""The pages are usable by everyone: WCAG 2.2 level AA, as far as a machine can tell.

axe-core judges each page as it stands in a browser (``wcag.py``); reflow, text spacing,
the keyboard and the printed sheet, which it does not try, are tried here. Numbers of
success criteria are those of WCAG 2.2 (W3C Recommendation, 2023). What only a person
can judge is not tested. The file is long because each check stands beside a planted
fault that it must find.
"""

import io
import json
from importlib.util import find_spec

import pypdf
import pytest
import sampling
from click.testing import CliRunner
from conftest import CHROMIUM
from wcag import judged

from auditkit.bench import KINDS
from auditkit.cli.demo import demo_command
from auditkit.proof.check_packet import parse_packet, verify_packet
from auditkit.reader.page.build import checker_page
from auditkit.reader.page.packet_page import packet_page

pytestmark = pytest.mark.skipif(
    not (CHROMIUM and find_spec("playwright") and find_spec("axe_playwright_python")),
    reason="playwright, axe-playwright-python or chromium is absent",
)
WHOLE = "file chosen, key compared"
ANSWERS = {
    WHOLE: "holds",
    "file chosen": "alone",
    "another key": "fails",
    "altered packet": "fails",
    "cut packet": "unreadable",
}
STATES = (
    "checker",
    *ANSWERS,
    "unfit fingerprint",
    "unfit checkpoint",
    "packet page",
)
VIEWS = {
    f"{media}, {scheme}, {width} px": (media, scheme, width)
    for media, scheme, width in (
        ("screen", "light", 1280),
        ("screen", "dark", 1280),
        ("screen", "light", 360),
        ("screen", "dark", 360),
        ("print", "light", 794),
        ("print", "dark", 794),
    )
}
# As it is first seen, and in a dark narrow window: every state. The others: some.
MOST_UNLIKE = ("screen, light, 1280 px", "screen, dark, 360 px")
_OTHERS = [(s, v) for s in STATES for v in VIEWS if v not in MOST_UNLIKE]
SEEN = [
    *((state, view) for view in MOST_UNLIKE for state in STATES),
    *sampling.sampled(_OTHERS, 9, "states of a page and how they are seen"),
]


@pytest.fixture(scope="module")
def proven(tmp_path_factory):
    """Return the file of a proven repair order's packet, and its log's fingerprint."""
    folder = tmp_path_factory.mktemp("week") / "demo"
    result = CliRunner().invoke(demo_command, ["--into", str(folder)])
    assert result.exit_code == 0, result.output
    file = folder / "RO-1001.packet.json"
    packet = parse_packet(file.read_bytes())
    assert "RO-1001 is proven" in packet.statement[0]
    return file, verify_packet(file.read_bytes()).log_key


# The page as it stands, with what was typed, and without its scripts: it starts once.
FREEZE = """() => {
  const whole = document.documentElement.cloneNode(true);
  for (const one of whole.querySelectorAll("script, meta[http-equiv]")) one.remove();
  for (const id of ["key", "kept"]) {
    const { value } = document.getElementById(id);
    const field = whole.querySelector(`#${id}`);
    if (id === "key") field.setAttribute("value", value);
    else field.textContent = value;
  }
  return `<!doctype html>${whole.outerHTML}`;
}"""


def live(browser, folder, view=("screen", "light", 1280)):
    """Return the checker page, opened in a view."""
    place = folder / "check.html"
    if not place.exists():
        place.write_text(checker_page(), encoding="utf-8")
    window = {"width": view[2], "height": 640}
    page = browser.new_page(viewport=window, color_scheme=view[1])
    page.set_default_timeout(60_000)
    page.goto(place.as_uri())
    return page


@pytest.fixture(scope="module")
def frozen(browser, proven, tmp_path_factory):
    """Return the text of the page in every state."""
    file, key = proven
    folder = tmp_path_factory.mktemp("states")
    page = live(browser, folder)
    page.wait_for_selector("html[data-state=ready]")
    found = {"checker": page.evaluate(FREEZE)}
    text = file.read_text()
    altered = text.replace("replaced", "adjusted", 1)
    assert altered != text
    files = {"altered packet": altered, "cut packet": text[:900]}
    keys = {WHOLE: key, "another key": f"{key[:9]}{'AB'[key[9] == 'A']}{key[10:]}"}
    for number, (state, answer) in enumerate(ANSWERS.items(), 1):
        page.fill("#key", keys.get(state, ""))
        place = folder / f"{number}.json"
        place.write_text(files.get(state, text))
        page.set_input_files("#file", place)
        page.wait_for_selector(f".answer[data-answer={answer}]")
        told = page.get_attribute("html", "data-answered")
        page.wait_for_selector(f"html[data-told='{told}']")
        found[state] = page.evaluate(FREEZE)
    for state, field, said in (
        ("unfit fingerprint", "key", "fingerprint has 43 letters"),
        ("unfit checkpoint", "kept", "no checkpoint"),
    ):
        page.fill("#key", "")
        page.evaluate("document.getElementById('held').open = true")
        page.fill(f"#{field}", "too short")
        page.click("button[type=submit]")
        page.wait_for_selector(f"#{field}[aria-invalid=true]")
        assert said in page.text_content(f"#{field}-error")
        found[state] = page.evaluate(FREEZE)
    page.close()
    found["packet page"] = packet_page(text, KINDS)
    return found


@pytest.fixture
def shown(browser, frozen, tmp_path):
    """Return a function that opens a page in one state and one view."""
    contexts = []

    def show(state, view=("screen", "light", 1280), edit=None):
        media, scheme, width = view
        made = frozen[state]
        place = tmp_path / "page.html"
        place.write_text(edit(made) if edit else made, encoding="utf-8")
        # The page's own policy lets in no script, so neither that of the test.
        window = {"width": width, "height": 640}
        context = browser.new_context(bypass_csp=True, viewport=window)
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(10_000)
        page.goto(place.as_uri())
        page.emulate_media(media=media, color_scheme=scheme)
        return page

    yield show
    for context in contexts:
        context.close()


def unfold(page):
    """Open all that is folded, so that it is judged too."""
    page.evaluate("document.querySelectorAll('details').forEach((d) => d.open = true)")


def audit(page):
    """Return axe's answer: which rules passed, and each fault as one line."""
    # Three are decided otherwise: a sign of one letter beside its word, in the word's
    # own colour; cells that a narrow window scrolls out of sight, in a wide one; and
    # text in a drawing, below.
    is_narrow = page.viewport_size["width"] < 700
    return judged(
        page,
        is_excused=lambda node: (
            node["target"] == [".sign"]
            or node["html"].startswith("<text")
            or (is_narrow and node["html"].startswith(("<td", "<th")))
        ),
    )


@pytest.mark.parametrize(("state", "view"), SEEN)
def test_axe_finds_no_fault(shown, state, view):
    page = shown(state, VIEWS[view])
    if state != "checker":  # judged as it is first seen, folded
        unfold(page)
    passed, faults = audit(page)
    assert faults == []
    assert len(passed) > 10, passed
    assert {"color-contrast", "document-title", "html-has-lang"} <= passed
    if VIEWS[view][0] == "screen" and state != "packet page":  # which has no form
        assert {"label", "target-size"} <= passed


TINY = "<b role=button tabindex=0 style='display:block;height:9px;width:9px'>.</b>"


@pytest.mark.parametrize(
    ("rule", "old", "new"),
    [
        ("image-alt", "</main>", "<img src='data:,' width=9 height=9></main>"),
        ("color-contrast", "</main>", "<p style='color: #999'>pale</p></main>"),
        ("color-contrast", "--quiet: #4a535c", "--quiet: #8a939c"),
        ("label", '<label for="key">', "<label>"),
        ("html-has-lang", ' lang="en"', ""),
        ("target-size", "</main>", f"{TINY * 2}</main>"),
        ("heading-order", '<h2 id="limits-title">', '<h5 id="limits-title">'),
    ],
)
def test_axe_finds_planted_faults(shown, rule, old, new):
    def plant(text):
        assert text.count(old) == 1
        return text.replace(old, new)

    _, faults = audit(shown("checker", edit=plant))
    assert rule in {fault.partition(":")[0] for fault in faults}


# Gives what a reader could not read: text outside the window's width or outside the
# box that holds it, and text that a box cuts off. In a window that is not narrow a
# table may be scrolled sideways (1.4.10 excepts what needs two dimensions), and
# ".unseen" is for screen readers.
CUT = """() => {
  const width = document.documentElement.clientWidth;
  const found = document.documentElement.scrollWidth > width ? ["the page"] : [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let text = walk.nextNode(); text; text = walk.nextNode()) {
    const parent = text.parentElement;
    const apart = width > 480 ? ".wide, .unseen, script" : ".unseen, script";
    if (!text.data.trim() || parent.closest(apart)) continue;
    if (!parent.checkVisibility()) continue;
    const range = document.createRange();
    range.selectNodeContents(text);
    let box = parent;
    while (getComputedStyle(box).display === "inline") box = box.parentElement;
    const outer = box.getBoundingClientRect();
    const isOut = [...range.getClientRects()].some((r) => r.right > width + 1 ||
      r.left < -1 || r.top < outer.top - 2 || r.bottom > outer.bottom + 2 ||
      r.left < outer.left - 1 || r.right > outer.right + 1);
    if (isOut) found.push(text.data.trim().slice(0, 60));
  }
  for (const field of document.querySelectorAll("input, textarea, button")) {
    if (!field.checkVisibility()) continue;
    const style = getComputedStyle(field);
    const { right, left } = field.getBoundingClientRect();
    const rows = field.rows ?? 1;
    const line = parseFloat(style.lineHeight) || 1.2 * parseFloat(style.fontSize);
    if (right > width || left < 0 || field.clientHeight < line * rows ||
        (field.tagName === "BUTTON" && field.scrollWidth > field.clientWidth))
      found.push(field.id || field.textContent);
  }
  return found;
}"""


@pytest.mark.parametrize("state", STATES)
def test_reflow(shown, state):
    """1.4.10: at 320 px, which is 1280 px enlarged four times, nothing is cut."""
    page = shown(state, ("screen", "light", 320))
    unfold(page)
    assert page.evaluate(CUT) == []


SPACED = """* {
  line-height: 1.5 !important;
  letter-spacing: 0.12em !important;
  word-spacing: 0.16em !important;
}
p { margin-bottom: 2em !important; }"""


@pytest.mark.parametrize("state", STATES)
def test_text_spacing(shown, state):
    """1.4.12: a reader's own spacing cuts nothing off."""
    page = shown(state)
    unfold(page)
    page.add_style_tag(content=SPACED)
    assert page.evaluate("getComputedStyle(document.body).letterSpacing") != "normal"
    cut = {}
    for width in (1280, 360, 320):
        page.set_viewport_size({"width": width, "height": 640})
        cut[width] = page.evaluate(CUT)
    assert cut == {1280: [], 360: [], 320: []}


@pytest.mark.parametrize(
    ("style", "said"),
    [
        ("#limits { width: 400px; }", "the page"),
        ("h1 { height: 1.2rem; overflow: hidden; }", "Check the record of a repair"),
        ("#about { white-space: nowrap; overflow: hidden; }", "Open a packet"),
        ("#key { height: 1rem; min-height: 0; }", "key"),
    ],
)
def test_cut_text_is_found(shown, style, said):
    page = shown("checker", ("screen", "light", 320))
    page.add_style_tag(content=style)
    assert any(found.startswith(said) for found in page.evaluate(CUT))


# All that can be used, by the elements that HTML lets a reader use.
USABLE = """[...document.querySelectorAll(
  "a[href], input, textarea, button, select, summary, [tabindex='0']")]
  .filter((e) => e.checkVisibility() && !e.disabled)"""
# The focused element: its name, its place among these, and what shows the focus.
FOCUSED = f"""() => {{
  const e = document.activeElement;
  if (e === document.body) return null;
  const {{ outlineStyle, outlineWidth, outlineColor }} = getComputedStyle(e);
  const {{ left, top, width, height }} = e.getBoundingClientRect();
  const seen = document.elementFromPoint(left + Math.min(width / 2, 20),
    top + Math.min(height / 2, 20));
  return {{
    name: e.id || e.textContent.trim(),
    place: {USABLE}.indexOf(e),
    outline: [outlineStyle, parseFloat(outlineWidth), outlineColor],
    isSeen: e.contains(seen) || Boolean(seen?.contains(e)),
  }};
}}"""


def tabbed(page, key="Tab"):
    """Return what the Tab key reaches, in order, until it leaves the page."""
    reached = []
    for _ in range(99):
        page.keyboard.press(key)
        found = page.evaluate(FOCUSED)
        if found is None or found["place"] in [known["place"] for known in reached]:
            return reached
        reached.append(found)
    raise AssertionError(reached)


def luminance(color):
    """Return the relative luminance of ``rgb(r, g, b)`` as WCAG defines it."""
    parts = [int(c) / 255 for c in color[4:-1].split(",")]
    red, green, blue = (
        c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def colours(page, selector, name):
    script = f"""() => [...document.querySelectorAll({json.dumps(selector)})]
      .map((one) => getComputedStyle(one).{name})"""
    return page.evaluate(script)


@pytest.mark.parametrize("state", [WHOLE, "packet page"])
def test_drawings_are_seen(shown, state):
    """1.4.3 for their words, 1.4.11 for their marks, on paper and on what is shaded."""
    page = shown(state)
    grounds = {
        *colours(page, "body", "backgroundColor"),
        *colours(page, ".gauge .allowed", "fill"),
    }
    assert len(grounds) == 2
    for selector, name, least in (
        (".gauge text", "fill", 4.5),
        (".gauge .limit, .gauge .margin, .gauge .ring", "stroke", 3),
        (".gauge .square", "fill", 3),
    ):
        found = colours(page, selector, name)
        assert found
        for colour in found:
            for ground in grounds:
                lights = sorted([luminance(ground), luminance(colour)])
                assert (lights[1] + 0.05) / (lights[0] + 0.05) >= least, selector


@pytest.mark.parametrize(
    ("state", "view"),
    [
        *((state, MOST_UNLIKE[0]) for state in STATES),
        *((state, MOST_UNLIKE[1]) for state in sampling.sampled(STATES, 3, "by keys")),
    ],
)
def test_keyboard_reaches_everything_and_shows_where_it_is(shown, state, view):
    """2.1.1, 2.1.2, 2.4.3 in the order of the text, 2.4.7, 2.4.11, 1.4.11."""
    page = shown(state, VIEWS[view])
    unfold(page)
    page.evaluate(
        "() => Object.assign(document.querySelector('h1'), { tabIndex: -1 }).focus()"
    )
    reached = tabbed(page)
    count = page.evaluate(USABLE + ".length")
    assert [found["place"] for found in reached] == list(range(count)), reached
    assert count >= 4
    paper = luminance(page.evaluate("getComputedStyle(document.body).backgroundColor"))
    for found in reached:
        style, thick, color = found["outline"]
        assert style != "none", found
        assert thick >= 2, found
        lights = sorted([paper, luminance(color)])
        assert (lights[1] + 0.05) / (lights[0] + 0.05) >= 3, found
        assert found["isSeen"], found
    page.evaluate(USABLE + ".at(-1).focus()")
    back = [found["place"] for found in tabbed(page, "Shift+Tab")]
    assert back[: count - 1] == list(range(count - 1))[::-1]


def test_checker_is_used_without_a_mouse(browser, proven, tmp_path):
    file, key = proven
    page = live(browser, tmp_path)
    page.on("filechooser", lambda chooser: chooser.set_files(file))
    page.keyboard.press("Tab")
    assert page.evaluate(FOCUSED)["name"] == "file"
    page.keyboard.press("Enter")
    page.wait_for_selector(".answer[data-answer=alone]")
    assert page.evaluate("document.activeElement.id") == "word"
    for _ in range(9):
        page.keyboard.press("Shift+Tab")
        if page.evaluate(FOCUSED)["name"] == "key":
            break
    page.keyboard.type(key)
    page.keyboard.press("Enter")
    page.wait_for_selector(".answer[data-answer=holds]")
    assert page.evaluate("document.activeElement.id") == "word"
    for _ in range(9):
        page.keyboard.press("Shift+Tab")
        if page.evaluate(FOCUSED)["name"].startswith("I kept a receipt or an"):
            break
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    page.keyboard.type("no checkpoint")
    page.keyboard.press("Tab")
    page.wait_for_selector("#kept[aria-invalid=true]")
    assert "This is no receipt and no checkpoint." in page.text_content("#kept-error")
    assert page.locator(".answer").count() == 0
    page.close()


@pytest.mark.parametrize("state", [WHOLE, "packet page"])
def test_table_is_scrolled_with_the_keyboard(shown, state):
    page = shown(state, ("screen", "light", 500))
    unfold(page)
    page.focus(".details .wide")
    for _ in range(5):
        page.keyboard.press("ArrowRight")
    page.wait_for_function("document.querySelector('.details .wide').scrollLeft > 40")


DROP = """(text) => {
  const dataTransfer = new DataTransfer();
  dataTransfer.items.add(new File([text], "packet.json"));
  document.dispatchEvent(
    new DragEvent("drop", { dataTransfer, bubbles: true, cancelable: true }));
}"""


def test_focus_goes_to_the_answer_even_from_a_field_half_typed(
    browser, proven, tmp_path
):
    """2.4.3: who drops a file while the fingerprint has the focus is not left lost."""
    file, key = proven
    page = live(browser, tmp_path)
    page.focus("#key")
    page.keyboard.type(key)
    page.evaluate(DROP, file.read_text())
    page.wait_for_selector(".answer[data-answer=holds]")
    assert page.evaluate("document.activeElement.id") == "word"
    page.close()


@pytest.mark.parametrize("width", [320, 480, 500, 1280])
@pytest.mark.parametrize("state", [WHOLE, "packet page"])
def test_no_table_is_cut_and_in_a_narrow_window_its_cells_are_stacked(
    shown, state, width
):
    page = shown(state, ("screen", "light", width))
    unfold(page)
    cut = """[...document.querySelectorAll(".wide")].filter((box) =>
      box.scrollHeight > box.clientHeight + 1).length"""
    assert page.evaluate("document.querySelectorAll('.wide').length") > 3
    assert page.evaluate(cut) == 0
    beside = """[...document.querySelectorAll("td + td")].filter((cell) =>
      cell.getBoundingClientRect().top <
      cell.previousElementSibling.getBoundingClientRect().bottom).length"""
    count = page.evaluate("document.querySelectorAll('td + td').length")
    assert page.evaluate(beside) == (0 if width <= 480 else count)
    named = """[...document.querySelectorAll("td")].filter((cell) =>
      getComputedStyle(cell, "::before").content !== "none").length"""
    total = page.evaluate("document.querySelectorAll('td').length")
    assert page.evaluate(named) == (total if width <= 480 else 0)


@pytest.mark.parametrize("state", [WHOLE, "packet page"])
@pytest.mark.parametrize("width", [360, 1280])
def test_table_breaks_no_word(shown, width, state):
    """A narrow window must not leave a column one letter wide."""
    page = shown(state, ("screen", "light", width))
    unfold(page)
    broken = """() => [...document.querySelectorAll("th, td:not(:last-child)")]
      .filter((cell) => {
        const range = document.createRange();
        range.selectNodeContents(cell);
        const lines = new Set([...range.getClientRects()].map((r) => r.top));
        return lines.size > cell.textContent.trim().split(/[ -]/).length;
      }).map((cell) => cell.textContent)"""
    assert page.evaluate("document.querySelectorAll('td').length") > 50
    assert page.evaluate(broken) == []


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize(
    ("state", "said"),
    [
        (WHOLE, "The record holds."),
        ("file chosen", "who made it was not checked."),
        ("altered packet", "The record does not hold."),
        ("cut packet", "Nothing was checked."),
    ],
)
def test_print_shows_the_answer_first(shown, proven, state, said, paper):
    page = shown(state, ("print", "light", 794))
    sheets = pypdf.PdfReader(io.BytesIO(page.pdf(format=paper))).pages
    texts = [" ".join(sheet.extract_text().split()) for sheet in sheets]
    first = texts[0]
    assert said in first
    assert "What to do next" in first
    assert "Packet file" not in " ".join(texts), "the form is of no use on paper"
    is_read = state in (WHOLE, "file chosen")
    assert ("RO-1001 is proven" in first) == is_read
    key = proven[1]
    assert (key in first.replace(" ", "")) == (state != "cut packet")
    assert ("Bench test" in " ".join(texts)) == is_read


def test_print_of_a_packet_page_begins_with_what_it_says(shown):
    page = shown("packet page", ("print", "light", 794))
    sheets = pypdf.PdfReader(io.BytesIO(page.pdf(format="A4"))).pages
    first = " ".join(sheets[0].extract_text().split())
    assert "RO-1001 is proven" in first
    assert "checks nothing" in first
