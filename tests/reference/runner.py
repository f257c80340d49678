"""Read folders of check cases and compare what the product gives with what is expected.

A folder holds `cases.json` and `data/`. A number passes when
`|got - expected| <= abs + rel * |expected|`; true and false must match; text only explains.
"""

import json
import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

HERE = Path(__file__).resolve().parent
KEPT = HERE / "cases"
BESIDE_CHECKOUT = HERE.parents[2] / "shared" / "check-values"


@dataclass(frozen=True, slots=True)
class Case:
    """One check: a method, its data and arguments, and the numbers it must give."""

    id: str
    method: str
    data: str | None
    arguments: dict[str, Any]
    expected: dict[str, Any]
    relative: float
    absolute: float
    source: str
    folders: tuple[Path, ...]

    def data_path(self) -> Path | None:
        """Return the first folder's copy of the data file, or None where no folder has it."""
        paths = (folder / "data" / str(self.data) for folder in self.folders)
        return next((path for path in paths if path.is_file()), None)

    def frame(self) -> pd.DataFrame | None:
        """Return the data of the case; None where the arguments hold the numbers."""
        path = self.data_path()
        return None if self.data is None or path is None else pd.read_csv(path)


def cases_of(folder: Path, *more_data: Path) -> list[Case]:
    """Return the cases of one folder; data files may also lie in `more_data` folders."""
    path = folder / "cases.json"
    if not path.is_file():
        raise FileNotFoundError(f"{path}: a folder of cases needs this file.")
    content = json.loads(path.read_text(encoding="utf-8"))
    rows = content["cases"] if isinstance(content, dict) else content
    return [_case(row, (folder, *more_data)) for row in rows]


def default_cases() -> list[Case]:
    """Return the kept cases, then those beside the checkout that are not kept here."""
    kept = cases_of(KEPT, BESIDE_CHECKOUT)
    if not (BESIDE_CHECKOUT / "cases.json").is_file():
        return kept
    known = {case.id for case in kept}
    return kept + [case for case in cases_of(BESIDE_CHECKOUT) if case.id not in known]


def _case(row: dict[str, Any], folders: tuple[Path, ...]) -> Case:
    tolerance = row.get("tolerance", {})
    return Case(
        id=row["id"],
        method=row["method"],
        data=row.get("data"),
        arguments=row.get("arguments") or {},
        expected=row["expected"],
        relative=tolerance.get("rel", 1e-6),
        absolute=tolerance.get("abs", 1e-9),
        source=row.get("source", ""),
        folders=folders,
    )


def differences(
    got: Any, expected: Any, *, relative: float, absolute: float, where: str = ""
) -> Iterator[str]:
    """Yield one sentence for every expected number or flag that `got` does not meet."""
    place = where or "result"
    options = {"relative": relative, "absolute": absolute}
    # A NaN among the expected numbers says that the source gives none there.
    if isinstance(expected, str) or (isinstance(expected, float) and math.isnan(expected)):
        return
    if isinstance(expected, dict):
        yield from _dict_differences(got, expected, place, options)
    elif isinstance(expected, list):
        yield from _list_differences(got, expected, place, options)
    elif expected is None:
        if got is not None and not (isinstance(got, float) and math.isnan(got)):
            yield f"{place}: expected no number, got {got!r}"
    elif isinstance(expected, bool):
        if bool(got) is not expected or got is None:
            yield f"{place}: expected {expected}, got {got!r}"
    elif not is_close(got, expected, **options):
        yield f"{place}: expected {expected!r}, got {got!r}"


def _dict_differences(
    got: Any, expected: dict[str, Any], place: str, options: dict[str, float]
) -> Iterator[str]:
    if not isinstance(got, dict):
        yield f"{place}: expected named numbers, got {type(got).__name__}"
        return
    for name, value in expected.items():
        if isinstance(value, str):
            continue
        if name not in got:
            yield f"{place}.{name}: missing"
            continue
        yield from differences(got[name], value, where=f"{place}.{name}", **options)


def _list_differences(
    got: Any, expected: list[Any], place: str, options: dict[str, float]
) -> Iterator[str]:
    values = got.tolist() if hasattr(got, "tolist") else got
    if not isinstance(values, (list, tuple)) or len(values) != len(expected):
        yield f"{place}: expected a list of {len(expected)}, got {values!r}"
        return
    for position, (one, wanted) in enumerate(zip(values, expected, strict=True)):
        yield from differences(one, wanted, where=f"{place}[{position}]", **options)


def is_close(got: Any, expected: float, *, relative: float, absolute: float) -> bool:
    """Return whether one number meets the pass rule; infinities must be equal."""
    try:
        value = float(got)
    except (TypeError, ValueError):
        return False
    if math.isinf(expected) or math.isnan(value):
        return value == expected
    return abs(value - expected) <= absolute + relative * abs(expected)
