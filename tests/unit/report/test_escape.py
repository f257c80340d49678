import json
import subprocess

import pypandoc
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lengthwise.report import escape
from lengthwise.report.embedded.tree import stringify, walk


def parsed(text):
    finished = subprocess.run(
        [pypandoc.get_pandoc_path(), "--from", "markdown", "--to", "json"],
        input=text.encode(),
        capture_output=True,
        check=True,
    )
    return json.loads(finished.stdout)["blocks"]


def test_markdown_shows_a_hostile_text_letter_by_letter(hostile_text):
    blocks = parsed(f"start {escape.markdown(hostile_text)} end")
    assert stringify(blocks) == f"start {escape.plain(hostile_text)} end"
    kinds = {node["t"] for node in walk(blocks)}
    assert kinds <= {"Para", "Str", "Space"}


@settings(max_examples=60, deadline=None)
@given(st.text(alphabet=st.characters(max_codepoint=0x2FF), max_size=40))
def test_markdown_round_trips_any_text(text):
    shown = stringify(parsed(f"a {escape.markdown(text)} b"))
    assert shown == " ".join(f"a {escape.plain(text)} b".split())


def test_markdown_breaks_quarto_shortcodes_and_table_cells():
    assert "{{<" not in escape.markdown("{{< include x >}}")
    assert escape.markdown("a|b") == r"a\|b"


@pytest.mark.parametrize("mark", ["\u202e", "\u200f", "\u2066", "\u200b", "\x07", "\0"])
def test_invisible_characters_are_removed(mark):
    assert escape.plain(f"a{mark}b") == "ab"


def test_line_breaks_become_spaces():
    assert escape.plain("a\r\nb\u2028c\td") == "a b c d"


def test_attribute_cannot_end_its_quotes_or_start_a_shortcode():
    shown = escape.attribute('" onload="x" {{< y >}} \\ `')
    assert not set(shown) & set('"{}<>\\`')


def test_html_escapes_quotes_and_tags():
    assert escape.html('<a href="x">\'&') == "&lt;a href=&quot;x&quot;&gt;&#x27;&amp;"


def test_typst_markup_is_neutral():
    import typst

    text = '#panic("x") $a$ *b* _c_ `d` <e> @f = g - h + i / j ~ [k] {l} "m"'
    source = f"#set page(height: auto)\n{escape.typst(text)}".encode()
    assert typst.compile(source, format="svg").startswith(b"<svg")


def test_typst_string_keeps_its_quotes_closed():
    assert escape.typst_string('a"b\\c') == 'a\\"b\\\\c'


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_csv_text_never_starts_a_formula(start):
    assert escape.csv(f"{start}1+1") == f"'{start}1+1"
    assert escape.csv("plain") == "plain"


def test_slug_is_letters_digits_and_hyphens():
    assert escape.slug("../Fill <within>!") == "fill-within"
    assert escape.slug("\u202e") == "unnamed"
