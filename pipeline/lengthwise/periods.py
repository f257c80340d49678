"""Quarters and months as text (`2026-Q3`, `2026-07`), and windows between them; pure."""

import re
from dataclasses import dataclass

_QUARTER = re.compile(r"^(\d{4})-Q([1-4])$")


@dataclass(frozen=True, slots=True, order=True)
class Quarter:
    """A calendar quarter; ordered in time."""

    year: int
    number: int

    def __str__(self) -> str:
        return f"{self.year}-Q{self.number}"

    def plus(self, quarters: int) -> "Quarter":
        """Return the quarter that many quarters later (earlier when negative)."""
        index = self.year * 4 + self.number - 1 + quarters
        return Quarter(index // 4, index % 4 + 1)

    @property
    def last_month(self) -> str:
        """Return the quarter's last month as `YYYY-MM`."""
        return f"{self.year}-{self.number * 3:02d}"


def parse_quarter(text: str) -> Quarter:
    """Return the quarter written as `YYYY-Qn`; raise ValueError where it is not one."""
    match = _QUARTER.match(text.strip())
    if match is None:
        raise ValueError("a quarter is written like 2026-Q3")
    return Quarter(int(match[1]), int(match[2]))


def quarter_of(day: str) -> Quarter:
    """Return the quarter of a month or day written as `YYYY-MM` or `YYYY-MM-DD`."""
    return Quarter(int(day[:4]), (int(day[5:7]) + 2) // 3)


def window(first: str, last: str) -> str:
    """Return the label of a span of periods; one period stands alone."""
    return first if first == last else f"{first}..{last}"
