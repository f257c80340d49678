"""How a table shares the line: numbers on one line, words take what is left.

Pandoc reads relative widths from the dashes of a pipe table. Equal dashes stand for a table
that fits the line as it is; the renderers then let every column be as wide as its content.
"""

from collections.abc import Sequence
from math import sqrt

# Letters of table text that a line of an A4 page holds, and what each column's edges take.
LINE, EDGES = 112, 3
SHORT = 20
EQUAL = 4
# Renderers break a word without spaces after this many letters.
WORD_AT_MOST = 30


def column_widths(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> list[int]:
    """Return the dashes of each column: equal where all fit, else the shares of the line.

    A column is never narrower than its longest word; columns with short content keep their
    width, and the long ones share the rest by how much they hold.
    """
    columns = [list(column) for column in zip(*rows, strict=True)] or [[] for _ in headings]
    natural = [
        _longest([_half(name), *cells]) for name, cells in zip(headings, columns, strict=True)
    ]
    line = LINE - EDGES * len(headings)
    if sum(natural) <= line:
        return [EQUAL] * len(headings)
    least = [
        _longest([word for text in (name, *cells) for word in _words(text)])
        for name, cells in zip(headings, columns, strict=True)
    ]
    long = [sqrt(wide) if wide > SHORT else 0.0 for wide in natural]
    rest = line - sum(wide for wide in natural if wide <= SHORT)
    shares = [
        round(rest * weight / sum(long)) if weight else wide
        for wide, weight in zip(natural, long, strict=True)
    ]
    return _not_equal(
        [
            max(share, min(word, WORD_AT_MOST)) + EDGES
            for share, word in zip(shares, least, strict=True)
        ]
    )


def _longest(texts: Sequence[str]) -> int:
    return max(map(len, texts), default=0)


def _half(heading: str) -> str:
    """Return the longer line of a heading that is set on two lines."""
    words = heading.split(" ")
    halves = [
        (" ".join(words[:cut]), " ".join(words[cut:])) for cut in range(1, len(words))
    ] or [(heading, "")]
    return min((max(pair, key=len) for pair in halves), key=len)


def _words(text: str) -> list[str]:
    """Return the parts between which a line may break."""
    return text.replace("-", "- ").split(" ")


def _not_equal(widths: list[int]) -> list[int]:
    """Keep shares that happen to be equal from being read as a table that fits."""
    return [widths[0] + 1, *widths[1:]] if len(set(widths)) == 1 else widths
