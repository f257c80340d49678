"""The text of one export: clean rows with planted ones spread among them."""

from dataclasses import dataclass, field

import numpy as np
import pandas as pd


@dataclass(frozen=True, slots=True)
class Planted:
    """One row put in on purpose: its text and the findings it must get."""

    line: str
    findings: tuple[tuple[str, str, str, str], ...] = ()  # column, code, severity, note


@dataclass(slots=True)
class Sheet:
    """The planted rows of one export, in the order in which they must appear."""

    entity: str
    columns: tuple[str, ...]
    base: dict[str, str]
    rows: list[Planted] = field(default_factory=list)

    def line(self, **values: str) -> str:
        """Return one row as text; fields not named take the sheet's usual value."""
        cells = {**self.base, **values}
        return ",".join(cells.get(name, "") for name in self.columns)

    def clean(self, **values: str) -> str:
        """Plant a row without a fault and return its text."""
        self.rows.append(Planted(self.line(**values)))
        return self.rows[-1].line

    def error(self, faults: dict[str, str], note: str, **values: str) -> None:
        """Plant a row whose fields named in `faults` (column: fault) are wrong."""
        found = []
        for column, fault in faults.items():
            stem = column
            for unit in ("_mm", "_iso", "_pct"):
                stem = stem.removesuffix(unit)
            found.append((column, f"{self.entity}.{stem}_{fault}", "error", note))
        self.rows.append(Planted(self.line(**values), tuple(found)))

    def raw(
        self, text: str, code: str, note: str, column: str = "", *, severity="error"
    ) -> None:
        """Plant a line of text as it stands."""
        finding = (column, f"{self.entity}.{code}", severity, note)
        self.rows.append(Planted(text, (finding,)))

    def warning(self, column: str, code: str, note: str, **values: str) -> None:
        """Plant a row that is accepted with a warning."""
        self.raw(self.line(**values), code, note, column, severity="warning")

    def conflict(self, note: str, *versions: dict[str, str]) -> None:
        """Plant rows of one key that contradict each other."""
        for values in versions:
            self.raw(self.line(**values), "key_conflict", note)


def spread(
    rng: np.random.Generator, clean: pd.DataFrame, sheet: Sheet, file_name: str
) -> tuple[str, list[dict[str, object]]]:
    """Return the file's text and its lines of `planted_faults.csv`."""
    lines = [",".join(row) for row in clean.itertuples(index=False, name=None)]
    total = len(lines) + len(sheet.rows)
    places = np.sort(rng.choice(total, size=len(sheet.rows), replace=False))
    planted = dict(zip(places.tolist(), sheet.rows, strict=True))
    rest = iter(lines)
    text = [planted[row].line if row in planted else next(rest) for row in range(total)]
    return "\n".join([",".join(sheet.columns), *text]) + "\n", _listed(planted, file_name)


def append(text: str, sheet: Sheet, file_name: str) -> tuple[str, list[dict[str, object]]]:
    """Return a file's text with planted rows at its end, and their lines of the list of faults."""
    rows = text.count("\n") - 1
    planted = dict(enumerate(sheet.rows, start=rows))
    lines = "".join(f"{item.line}\n" for item in sheet.rows)
    return text + lines, _listed(planted, file_name)


def _listed(planted: dict[int, Planted], file_name: str) -> list[dict[str, object]]:
    return [
        {"file": file_name, "row": row + 1, "column": column, "code": code,
         "severity": severity, "note": note}
        for row, item in planted.items()
        for column, code, severity, note in item.findings
    ]  # fmt: skip
