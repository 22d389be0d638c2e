"""One base for every page: escaped, complete, printable."""

from __future__ import annotations

from markupsafe import Markup

from regen.output.page import Picture, Section, page
from regen.sources import cite, find


def test_parts_are_escaped_paragraphs_lists_and_their_own_html():
    picture = Picture("a", "caption <1>", b"<svg/>")
    parts = ["a < b", ["x", "<y>"], Markup("<h3>h</h3>"), "5 %", picture, None]
    text = page("T & t", "sub <s>", [Section("Two words", parts, kind="fresh")])
    assert "<h1>T &amp; t</h1>" in text
    assert '<p class="small">sub &lt;s&gt;</p>' in text
    assert '<section id="two-words" class="fresh">' in text
    for wanted in (
        "<p>a &lt; b</p>",
        "<li>&lt;y&gt;</li>",
        "<h3>h</h3>",
        "<p>5\u00a0%</p>",
        "<figcaption>caption &lt;1&gt;</figcaption>",
        'src="data:image/svg+xml;base64,PHN2Zy8+"',
    ):
        assert wanted in text
    assert "None" not in text.partition("<body>")[2]


def test_references_and_cautions_stand_at_the_end_and_the_same_page_is_the_same_text():
    def made() -> str:
        return page("t", sources=["manson1965", "bartz1957", "bartz1957"])

    text = made()
    assert made() == text
    references = text.partition('id="references"')[2]
    assert references.count("<li id=") == 2
    assert references.index("bartz1957") < references.index("manson1965")
    assert str(Markup.escape(cite(find("bartz1957")))) in references
    usual = "Hot fire: remote operation"
    assert usual in references.partition('id="cautions"')[2]
    own = page("t", cautions=["Lift < 20 kg."])
    assert "<li>Lift &lt; 20 kg.</li>" in own
    assert usual not in own


def test_paper_may_be_sideways_and_nothing_is_fetched():
    assert "size: A4 landscape;" in page("t", landscape=True)
    style = page("t").partition("<style>")[2].partition("</style>")[0]
    assert "size: A4;" in style
    assert "url(" not in style
    assert "@import" not in style
