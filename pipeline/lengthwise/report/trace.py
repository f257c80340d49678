"""The way back from a figure or table to the results it shows.

A pattern with `*` stands for several results; `lengthwise explain` takes either.
"""

from collections.abc import Iterable, Sequence
from itertools import groupby, takewhile

from lengthwise.report.escape import markdown

ANY = "*"
PATTERNS_AT_MOST = 4


def compact(result_ids: Iterable[str]) -> list[str]:
    """Return patterns that match every one of the ids, at most four where that is possible.

    Ids of one analysis and of one number of parts share a pattern; parts in which they
    differ become `*`, after the words before a hyphen that they have in common.
    """
    ids = sorted({str(name) for name in result_ids}, key=_kind)
    patterns = [_pattern([name.split(".") for name in own]) for _, own in groupby(ids, _kind)]
    if len(patterns) <= PATTERNS_AT_MOST:
        return patterns
    analyses = dict.fromkeys(name.split(".")[0] for name in ids)
    return [f"{analysis}.{ANY}" for analysis in analyses]


def footer(result_ids: Iterable[str], words: str = "") -> str:
    """Return the small print under a figure or table: words, then how to trace its numbers."""
    patterns = compact(result_ids)
    shown = ", ".join(f"`{_code(pattern)}`" for pattern in patterns)
    traced = f"Result {'id' if len(patterns) == 1 else 'ids'}: {shown}" if patterns else ""
    text = " ".join(part for part in (markdown(words), traced) if part)
    return f"::: {{.result-ids}}\n{text}\n:::\n" if text else ""


def _kind(name: str) -> tuple[str, int]:
    parts = name.split(".")
    return parts[0], len(parts)


def _pattern(rows: Sequence[Sequence[str]]) -> str:
    return ".".join(_common(parts) for parts in zip(*rows, strict=True))


def _common(parts: Sequence[str]) -> str:
    if len(set(parts)) == 1:
        return parts[0]
    # Only whole words before a hyphen are kept: half a code would look like a code.
    words = [part.split("-") for part in parts]
    same = takewhile(lambda column: len(set(column)) == 1, zip(*words, strict=False))
    return "-".join([*(column[0] for column in same), ANY])


def _code(text: str) -> str:
    """Return an id for a code span; ids come from codes of the data, so nothing may end it."""
    return "".join(letter for letter in text if letter.isalnum() or letter in "_-.*")
