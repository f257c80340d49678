"""Every page of the pack in a headless browser, offline: WCAG 2.2 A and AA, 320 and 1280 px.

The checker finds what a machine can find by rules; the other tests here are the points of
WCAG 2.2 that it does not cover.
"""

import re

import pytest

from headless import browser, opened
from lengthwise.report.documents import KINDS

pytestmark = [pytest.mark.xdist_group("demo"), pytest.mark.browser]
WIDTHS = (320, 1280)
WITH_PAGES = [kind for kind in KINDS.values() if "html" in kind.formats]
BY_PLACE = re.compile(
    r"\b(?:(?:red|blue|green|orange|black|grey) (?:line|dot|point|bar|box)s?"
    r"|on the (?:left|right)|to the (?:left|right) of|click here)\b"
)
# WCAG 1.4.12: a reader may set these, and nothing may be lost.
SPACING = """* { line-height: 1.5 !important; letter-spacing: 0.12em !important;
  word-spacing: 0.16em !important; } p { margin-bottom: 2em !important; }"""
OVERFLOWING = """() => {
  const edge = document.documentElement.clientWidth + 1;
  const inBox = (node) => node.closest('.table-scroll, pre') !== null;
  return [...document.querySelectorAll('body *')]
    .filter((node) => node.getBoundingClientRect().right > edge && !inBox(node))
    .filter((node) => getComputedStyle(node).position !== 'absolute')
    .map((node) => node.outerHTML.slice(0, 100));
}"""
SCROLLS = "() => document.scrollingElement.scrollWidth - document.scrollingElement.clientWidth"
CLIPPED = """() => [...document.querySelectorAll('body *')]
  .filter((node) => ['hidden', 'clip'].includes(getComputedStyle(node).overflowY))
  .filter((node) => node.scrollHeight > node.clientHeight + 1)
  .map((node) => node.outerHTML.slice(0, 100))"""
FOCUSABLE = """() => [...document.querySelectorAll(
    'a[href], button, input, select, textarea, summary, [tabindex="0"]')]
  .filter((node) => node.getClientRects().length > 0 || node.matches('.skip-link')).length"""
FOCUSED = """() => {
  const node = document.activeElement, box = node.getBoundingClientRect();
  const style = getComputedStyle(node);
  if (!node.dataset.seen) node.dataset.seen = String(document.querySelectorAll('[data-seen]').length + 1);
  return {
    tag: node.tagName, seen: node.dataset.seen,
    outline: style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2,
    shown: box.bottom > 0 && box.top < innerHeight && box.right > 0,
  };
}"""


@pytest.fixture(scope="module")
def started():
    with browser() as running:
        yield running


@pytest.fixture(scope="module")
def paths(whole_demo):
    found = {
        kind.name: sorted((whole_demo.place / kind.audience).glob("*.html"))
        for kind in WITH_PAGES
    }
    assert all(found.values()), "a kind of document has no page"
    return found


def kinds_and_widths(test):
    names = pytest.mark.parametrize("kind", [kind.name for kind in WITH_PAGES])
    return names(pytest.mark.parametrize("width", WIDTHS)(test))


@kinds_and_widths
def test_nothing_is_asked_of_a_network_and_nothing_goes_wrong(started, paths, kind, width):
    for path in paths[kind]:
        with opened(started, path, width) as page:
            assert page.complaints == []
            outside = [url for url in page.requests if not url.startswith("data:")]
            assert outside == [path.as_uri()]


@kinds_and_widths
def test_no_rule_of_the_checker_is_broken(started, paths, kind, width):
    for path in paths[kind]:
        with opened(started, path, width) as page:
            assert page.violations(with_contrast=width == max(WIDTHS)) == []


@kinds_and_widths
def test_text_never_scrolls_sideways(started, paths, kind, width):
    for path in paths[kind]:
        with opened(started, path, width) as page:
            assert page.run(OVERFLOWING) == []
            assert page.run(SCROLLS) <= 0


@pytest.mark.parametrize("kind", [kind.name for kind in WITH_PAGES])
def test_larger_letters_and_wider_spacing_lose_nothing(started, paths, kind):
    with opened(started, paths[kind][0], 1280) as page:
        page.page.add_style_tag(content="html { font-size: 200% !important; }")
        assert page.run(OVERFLOWING) == []
        assert page.run(CLIPPED) == []
    with opened(started, paths[kind][0], 320) as page:
        page.page.add_style_tag(content=SPACING)
        assert page.run(OVERFLOWING) == []
        assert page.run(CLIPPED) == []


@pytest.mark.parametrize("kind", [kind.name for kind in WITH_PAGES])
def test_every_control_is_reached_by_keyboard_and_shows_it(started, paths, kind):
    with opened(started, paths[kind][0], 1280) as page:
        page.run(
            "() => document.querySelectorAll('details').forEach((n) => { n.open = true; })"
        )
        count = page.run(FOCUSABLE)
        reached = []
        for _ in range(count):
            page.page.keyboard.press("Tab")
            reached.append(page.run(FOCUSED))
        assert len({item["seen"] for item in reached}) == count
        assert all(item["outline"] for item in reached)
        assert all(item["shown"] for item in reached)


@pytest.mark.parametrize("kind", [kind.name for kind in WITH_PAGES])
def test_the_first_stop_leads_past_the_contents(started, paths, kind):
    with opened(started, paths[kind][0], 1280) as page:
        page.page.keyboard.press("Tab")
        page.page.keyboard.press("Enter")
        assert page.run("() => document.activeElement.tagName") == "MAIN"


@pytest.mark.parametrize("kind", [kind.name for kind in WITH_PAGES])
def test_structure_is_in_the_markup(started, paths, kind):
    for path in paths[kind]:
        with opened(started, path, 1280) as page:
            assert page.run("() => document.documentElement.lang") == "en-GB"
            assert "2026-Q2" in page.run("() => document.title")
            assert page.run("() => document.querySelectorAll('h1').length") == 1
            headings = page.run(
                "() => [...document.querySelectorAll('h1,h2,h3,h4')].map((n) => n.innerText.trim())"
            )
            assert len(headings) == len(set(headings)), path.name
            bare = (
                "() => [...document.querySelectorAll('table')].filter((t) => !t.caption).length"
            )
            assert page.run(bare) == 0
            unnamed = (
                "() => [...document.querySelectorAll('.table-scroll')].filter((n) => "
                "n.tabIndex !== 0 || !n.getAttribute('aria-label')).length"
            )
            assert page.run(unnamed) == 0
            assert (
                page.run("() => document.querySelectorAll('[title], marquee, font').length")
                == 0
            )


@pytest.mark.parametrize("kind", [kind.name for kind in WITH_PAGES])
def test_figures_follow_their_headline_and_are_described_twice(started, paths, kind):
    script = """() => [...document.querySelectorAll('figure')].map((node) => ({
      before: node.previousElementSibling?.innerText || '',
      alt: node.querySelector('img')?.alt || '',
      caption: node.querySelector('figcaption')?.innerText || '',
    }))"""
    for path in paths[kind]:
        with opened(started, path, 1280) as page:
            said = page.run("() => document.body.innerText")
            for figure in page.run(script):
                assert len(figure["alt"]) > 40
                assert figure["alt"] not in figure["caption"]
                assert figure["before"]
                # Not every reader gets the alternative text, so the body says it as well.
                assert figure["alt"][:60] in said


@pytest.mark.parametrize("kind", [kind.name for kind in WITH_PAGES])
def test_words_need_no_colour_and_no_place(started, paths, kind):
    for path in paths[kind]:
        with opened(started, path, 1280) as page:
            assert BY_PLACE.findall(page.run("() => document.body.innerText")) == []
            links = page.run("() => [...document.links].map((n) => n.textContent.trim())")
            assert all(len(text) > 1 for text in links)
