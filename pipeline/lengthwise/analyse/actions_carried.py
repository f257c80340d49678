"""Actions from quarter to quarter: open since when, past their date, or dropped from the file."""

import re
from typing import Any

from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.settings import Settings
from lengthwise.statistics.results import NAN, Estimate

SECTION = "actions"
OPEN = "open"
METHOD = "actions of the file beside those of earlier runs, by gap and action"
_DUE = re.compile(r"^\d{4}-(Q[1-4]|(0[1-9]|1[0-2]))$")

Earlier = list[tuple[str, list[dict[str, Any]]]]


def analyse_carried(
    rows: ResultRows, earlier: Earlier, quarter: str, settings: Settings
) -> None:
    """Write for each action since when it is open, and which open ones left the file.

    Parameters
    ----------
    earlier : list of (str, list of dict)
        Every earlier quarter that was analysed, in order, with the actions of its run.
    """
    topic = Topic(SECTION, "carried", quarter)
    for number, item in enumerate(settings.actions, start=1):
        held = [
            period
            for period, actions in earlier
            if any(_is_same(item, other) and other.get("status") == OPEN for other in actions)
        ]
        words = _words(item, held, quarter)
        value = Estimate(len(held), NAN, NAN, 0.95, len(earlier), 0, METHOD, True, words)
        rows.add(
            topic, "quarters_open", "action", value, unit="count",
            stratum=("action", str(number)),
        )  # fmt: skip
    if earlier:
        _add_dropped(rows, topic, *earlier[-1], settings)


def _add_dropped(
    rows: ResultRows, topic: Topic, period: str, actions: list[dict[str, Any]],
    settings: Settings,
) -> None:  # fmt: skip
    dropped = [
        item
        for item in actions
        if item.get("status") == OPEN
        and not any(_is_same(item, other) for other in settings.actions)
    ]
    for number, item in enumerate(dropped, start=1):
        words = (
            f"open in {period} and no longer in actions.toml: {item.get('gap', '')}; "
            f"{item.get('action', '')}. Put it back, or set its status to done or stopped"
        )
        value = Estimate(1, NAN, NAN, 0.95, 1, 0, METHOD, True, words)
        rows.add(
            topic, "dropped", "action", value, unit="count",
            stratum=("dropped_action", str(number)),
        )  # fmt: skip


def _words(item: dict[str, Any], held: list[str], quarter: str) -> str:
    if item.get("status") != OPEN:
        return ""
    said = [f"open since {held[0]}" if held else "new"]
    due = str(item.get("due", ""))
    if _DUE.match(due) and _quarter_of(due) < quarter:
        said.append("its date has passed")
    return "; ".join(said)


def _quarter_of(due: str) -> str:
    if "Q" in due:
        return due
    return f"{due[:4]}-Q{(int(due[5:]) + 2) // 3}"


def _is_same(first: dict[str, Any], second: dict[str, Any]) -> bool:
    return all(
        _plain(first.get(name)) == _plain(second.get(name)) for name in ("gap", "action")
    )


def _plain(value: Any) -> str:
    return " ".join(str(value or "").casefold().split()).rstrip(".")
