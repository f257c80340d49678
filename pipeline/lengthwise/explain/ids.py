"""Finds the stored numbers that an id, a pattern or the id on a clinician's sheet names."""

import re
from collections.abc import Callable
from difflib import get_close_matches
from fnmatch import fnmatchcase

import pandas as pd

from lengthwise.errors import AnalysisError

NEAR = 5
_SHEET = re.compile(r"\.clinician-(?P<slug>[0-9a-f]{16})\Z")
Code = Callable[[str], str | None]


def matching(estimates: pd.DataFrame, wanted: str, code_of: Code) -> pd.DataFrame:
    """Return the rows that an id names, or that a pattern with `*` names.

    Parameters
    ----------
    code_of : function
        From the number of a clinician's sheet to the clinician's code, None where unknown.

    Raises
    ------
    AnalysisError
        No row fits; the message names ids that are near.
    """
    rows, name = estimates, wanted.strip()
    if match := _SHEET.search(name):
        code = code_of(match["slug"])
        if code is None:
            raise AnalysisError(
                f"no sheet has the number {match['slug']} in this period's key; the key lies "
                "with the internal reports"
            )
        rows = rows[rows["scope"] == f"clinician:{code}"]
        name = f"{name[: match.start()]}.clinician-*"
    fits = [fnmatchcase(str(item), _literal(name)) for item in rows["result_id"]]
    found = rows[fits]
    if found.empty:
        raise AnalysisError(_unknown(wanted, [str(item) for item in estimates["result_id"]]))
    return found


def _literal(pattern: str) -> str:
    """Let only `*` stand for something: a bracket or a question mark is itself."""
    return re.sub(r"([\[?])", r"[\1]", pattern)


def _unknown(wanted: str, known: list[str]) -> str:
    near = get_close_matches(wanted, known, n=NEAR, cutoff=0.6)
    told = f"; near are: {', '.join(near)}" if near else ""
    return (
        f"this run has no result {wanted}{told}. Ids stand under the figures and tables of the "
        "reports; * stands for any letters"
    )
