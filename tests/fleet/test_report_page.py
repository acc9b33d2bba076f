"""An audit's page stands alone, escapes what strangers wrote, and accuses nobody."""

import base64
import hashlib
import re
import subprocess
import sys
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise

import invented_audit
import pytest

from auditkit.fleet.audited import Audit, Section
from auditkit.fleet.report import standing
from auditkit.fleet.report.page import audit_page
from auditkit.fleet.report.standing import NO_ANSWER
from auditkit.fleet.report.told import told

PAGES = {invented_audit.DIGEST: "orders/one.html"}


class Tree(HTMLParser):
    """What elements and attributes a page has, and the text in it."""

    def __init__(self, page):
        super().__init__()
        self.tags, self.names, self.texts, self.values = [], set(), [], []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.names |= {name for name, _ in attrs}
        self.values += attrs

    def handle_data(self, data):
        self.texts.append(data)

    @property
    def text(self):
        return "".join(self.texts)

    def all_of(self, name):
        return [value for key, value in self.values if key == name]


@pytest.fixture(scope="module")
def page():
    return audit_page(invented_audit.audit(), PAGES)


def test_same_audit_gives_the_same_bytes():
    script = (
        "import sys; sys.path.insert(0, 'tests/support'); import invented_audit as a;"
        "from auditkit.fleet.report.page import audit_page;"
        "sys.stdout.write(audit_page(a.audit(), {a.OTHER_DIGEST: 'b', a.DIGEST: 'a'}))"
    )
    made = [
        subprocess.run(
            [sys.executable, "-c", script],
            capture_output=True,
            check=True,
            env={"PYTHONHASHSEED": seed, "PYTHONUTF8": "1"},
        ).stdout
        for seed in ("1", "2")
    ]
    assert made[0] == made[1]
    assert len(made[0]) > 10_000


def test_page_loads_and_runs_nothing(page):
    tree = Tree(page)
    assert not {"script", "link", "img", "iframe", "object", "form"} & set(tree.tags)
    assert not {name for name in tree.names if name.startswith("on")}
    assert not {"style", "src", "srcset", "xlink:href"} & tree.names
    # Within the page, and to the page of a packet beside it; nowhere else.
    for target in tree.all_of("href"):
        assert target.startswith("#") or target in PAGES.values()


def test_policy_lets_in_the_page_s_own_style_alone(page):
    (policy,) = (v for v in Tree(page).all_of("content") if "default-src" in v)
    rules = dict(part.strip().split(" ", 1) for part in policy.split(";"))
    style = re.search("<style>(.*?)</style>", page, re.DOTALL)[1]
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    assert rules == {
        "default-src": "'none'",
        "style-src": f"'sha256-{digest}'",
        "base-uri": "'none'",
        "form-action": "'none'",
    }


@pytest.mark.parametrize("name", invented_audit.HOSTILE)
def test_what_strangers_wrote_is_text_alone(name):
    plain = Tree(audit_page(invented_audit.named_all("Shop")))
    hostile = Tree(audit_page(invented_audit.named_all(name)))
    # A longer text may be cut, or moved: the picture may need other marks, the page
    # no other element.
    drawn = {"path", "text", "g", "rect", "circle"}
    assert [t for t in hostile.tags if t not in drawn] == [
        t for t in plain.tags if t not in drawn
    ]
    assert set(hostile.tags) == set(plain.tags)
    assert hostile.names == plain.names
    for hidden in ("\u202e", "\x00", "\x07"):
        assert hidden not in hostile.text
    if "\u202e" in name:
        assert "<U+202E>" in hostile.text


def test_first_page_comes_first_and_links_lead_somewhere(page):
    tree = Tree(page)
    headings = re.findall(r"<h2[^>]*><bdi>(.*?)</bdi>", page)
    assert headings[0] == "What stands out"
    assert headings[-2:] == ["How this was computed", "How to read this"]
    assert page.index("94.9 in 100") < page.index("<nav")
    ids = tree.all_of("id")
    assert len(ids) == len(set(ids))
    inner = {target[1:] for target in tree.all_of("href") if target[0] == "#"}
    assert inner == set(ids)


def test_a_chart_is_told_and_its_numbers_are_listed(page):
    told_aloud = Tree(page).all_of("aria-label")
    text = Tree(page).text
    audit = invented_audit.audit()
    charts = [c for section in audit.sections for c in section.charts]
    charts += [one.chart for one in audit.asked]
    assert len(charts) == 8
    for chart in charts:
        assert any(said.startswith(chart.sentence) for said in told_aloud)
        assert f"Numbers of the picture: {chart.title}" in text
    assert "94.838" in text  # of the curve of all other shops, at its last day


def test_numbers_in_a_table_of_the_section_are_not_listed_twice():
    chart = replace(invented_audit.strength(), numbers="shops")
    section = Section("s", "S", (), (invented_audit.rates(3),), (chart,))
    first = Section("f", "F", ("x",))
    text = Tree(audit_page(Audit("A", (first, section), ()))).text
    assert "Numbers of the picture" not in text


def test_too_few_is_said_and_no_rate_is_printed(page):
    row = re.search(r"<tr><th [^>]*><bdi>Shop 5</bdi>.*?</tr>", page)[0]
    cells = re.findall(r"<t[hd][^>]*>(?:<bdi>)?([^<]*)", row)
    assert cells == ["Shop 5", "18", "too few", "too few", "too few", "0"]


def test_a_question_has_all_that_is_needed_to_answer_it(page):
    text = Tree(page).text
    for one in invented_audit.asked():
        for said in (one.question, one.at_least, *one.honest_reasons):
            assert said in text
        for packet in one.to_open:
            assert packet.sha256 in text
            assert packet.because in text
    assert text.count(NO_ANSWER) == 1
    assert "2026-05-02: our gauge has marks at each half." in text
    assert standing.TO_WATCH in text
    for said in standing.BEFORE_QUESTIONS:
        assert said in text


def test_only_packets_whose_page_lies_there_are_linked(page):
    linked = [v for v in Tree(page).all_of("href") if v[0] != "#"]
    assert linked == list(PAGES.values())
    assert invented_audit.OTHER_DIGEST in page


def test_no_word_accuses_and_none_needs_a_statistician(page):
    text = Tree(page).text.lower()
    for word in ("fraud", "fake", "guilt", "cheat", "suspicious", "p-value"):
        assert word not in text
    assert not re.search(r"\bsignificant|\brisk score|\bscore\b", text)


def test_a_vehicle_s_page_speaks_of_no_questions_to_shops():
    visits = replace(
        invented_audit.rates(1),
        columns=invented_audit.rates(1).columns[:1],
        rows=((invented_audit.DIGEST,),),
    )
    chart = invented_audit.timeline()
    section = Section("vehicle", "Vehicle", ("Two visits.",), (visits,), (chart,))
    page = audit_page(Audit("Vehicle", (section,), ()), PAGES)
    tree = Tree(page)
    assert standing.NO_QUESTION not in tree.text
    assert "nav" not in tree.tags
    assert chart.sentence in tree.text
    assert PAGES[invented_audit.DIGEST] in tree.all_of("href")


def test_without_shops_or_questions_it_says_so():
    bare = Tree(audit_page(Audit("Nothing at all", (), ()))).text
    assert standing.NO_QUESTION in bare
    table = invented_audit.rates(0)
    section = Section("shops", "Shops", (), (table,))
    assert (
        f"{table.title}: nothing to list."
        in Tree(audit_page(Audit("A", (section, section), ()))).text
    )


def test_long_tables_are_folded_but_for_that_of_the_first_page():
    table = invented_audit.rates(60)
    chosen = Section("first", "First", ("Said.",), (table,))
    later = Section("later", "Later", ("Said.",), (replace(table, title="Again"),))
    page = audit_page(Audit("A", (chosen, later), ()))
    contents, first, folded = page.split("<details", 2)
    assert contents.endswith('<nav aria-label="Contents">')
    assert first.startswith("><summary>Contents: ")
    assert first.count("<tr>") == 61
    assert "<bdi>Again: 60 rows</bdi>" in folded
    assert page.index("<nav") < page.index("<table")


def test_a_part_with_nothing_to_list_is_folded_below_what_it_says_first():
    empty = invented_audit.rates(0)
    parts = [
        Section("first", "First", ("Said.",)),
        Section("quiet", "Quiet", ("Nobody stands out.", "Why."), (empty,)),
        Section("loud", "Loud", ("Here is one.",), (invented_audit.rates(3), empty)),
    ]
    page = audit_page(Audit("A", tuple(parts), ()))
    assert (
        '<details><summary><h2 id="part-1"><bdi>Quiet</bdi></h2>'
        "<span><bdi>Nobody stands out.</bdi></span></summary><p><bdi>Why.</bdi></p>"
    ) in page
    assert "</details><h2" in page.partition("nothing to list.")[2]
    assert page.count("<details>") == 2, "the contents are the other"


def test_the_first_sentence_leads_to_the_questions_it_speaks_of(page):
    first = page.partition("</p>")[0]
    assert '<a href="#shops">To the questions</a>' in first
    assert page.count("To the questions") == 1
    assert '<h2 id="shops">' in page
    alone = audit_page(replace(invented_audit.audit(), asked=()))
    assert "To the questions" not in alone


def test_what_a_shop_calls_itself_stands_beside_its_log():
    whole = invented_audit.audit()
    name = whole.asked[0].shop
    page = audit_page(replace(whole, called={name: "A <b>Garage</b>"}))
    words = f"{name}: it calls itself 'A &lt;b&gt;Garage&lt;/b&gt;'"
    assert page.count(words) == 2, "in the contents, and over its questions"


def test_two_hundred_shops_are_all_named():
    text = Tree(audit_page(invented_audit.audit(200))).text
    for number in range(1, 201):
        assert f"Shop {number}" in text


def test_deeper_headings_follow_their_own(page):
    levels = [
        1,
        *(b.level for b in told(invented_audit.audit()) if hasattr(b, "level")),
    ]
    assert all(b - a <= 1 for a, b in pairwise(levels))
