"""One practice's summary: sums and counts large enough to share, nothing of any row."""

import math
import re
from collections.abc import Collection, Mapping
from typing import Any

import pandas as pd

from lengthwise.errors import ReportError
from lengthwise.report.disclosure import shared_view
from lengthwise.report.disclosure.profiles import SHARED, profile_of
from lengthwise.report.run_data import Row, RunData
from lengthwise.statistics.pooling import EVENTS_PER_PARAMETER, sharing_refusals, site_sums

FORMAT = "lengthwise summary 1"
SITE_CODE = re.compile(r"[A-Za-z0-9]{1,12}")
LEVELS = ("short", "within", "beyond")
PARTS = ("agreement", "fill", "outcome", "model")
NORMAL_QUANTILE = 1.959963984540054
Summary = dict[str, Any]


def summarise(
    run_data: RunData, site: str, *, releases: Collection[Mapping[str, Any]] = (),
    earlier: Collection[Summary] = (), leave_out: Collection[str] = (),
) -> tuple[Summary, tuple[str, ...]]:  # fmt: skip
    """Return the summary and why it may not leave; no reason means that it may.

    Parameters
    ----------
    site : str
        A code of the practice that tells strangers nothing: 1 to 12 letters and digits.
    releases : collection of mapping
        Records of shared packs: counts of shares are those of a shared view beside them.
    earlier : collection of mapping
        Summaries that were shared before: a comparison that grew by too few canals since is
        refused, for the difference of its sums would be those canals' own.
    leave_out : collection of str
        Parts (agreement, fill, outcome, model) or methods that the sender leaves out.
    """
    if not SITE_CODE.fullmatch(site):
        raise ReportError("A site code is 1 to 12 letters and digits, and no name.")
    view = shared_view(run_data, tuple(releases))
    least = profile_of(run_data, SHARED).minimum_count
    parts: dict[str, list[dict[str, Any]]] = {
        "agreement": _agreement(run_data, leave_out),
        "fill": _shares(view, "fill", "share"),
        "outcome": _shares(view, "outcome", "share_not_healed"),
        "model": _model(run_data),
    }
    kept = {name: [] if name in leave_out else items for name, items in parts.items()}
    summary = {
        "format": FORMAT, "site": site, "period": _period(view),
        "data_as_of": view.run["created_at"], "lengthwise": view.run["version"],
        "preset": run_data.setting("preset"), "minimum_count": least, **kept,
    }  # fmt: skip
    return summary, _refusals(summary, least, earlier)


def _period(view: RunData) -> str:
    from lengthwise.report.sections.study_common import span

    return span(view)


def _agreement(run_data: RunData, leave_out: Collection[str]) -> list[dict[str, Any]]:
    rows = run_data.select(section="agreement", analysis="A2", reference="confirmed")
    found = []
    for _, row in rows[(rows["measure"] == "bias") & rows["valid"]].iterrows():
        differences = run_data.plotted("bland_altman", str(row["subject"]))["y"]
        if row["subject"] in leave_out or differences.empty:
            continue
        sums = site_sums(differences)
        found.append(
            {
                "method": row["subject"], "reference": row["reference"], "n": sums.n,
                "sum_mm": round(sums.total, 2),
                "sum_of_squares_mm2": round(sums.total_of_squares, 3),
                "bias_mm": round(float(row["estimate"]), 3),
                "bias_standard_error_mm": round(_standard_error(row), 4),
            }
        )  # fmt: skip
    return found


def _standard_error(row: Row, *, is_ratio: bool = False) -> float:
    """Return the error behind an interval: half its width over the normal quantile."""
    lower, upper = float(row["lower"]), float(row["upper"])
    if is_ratio:
        lower, upper = math.log(lower), math.log(upper)
    return (upper - lower) / (2 * NORMAL_QUANTILE)


def _shares(view: RunData, section: str, measure: str) -> list[dict[str, Any]]:
    rows = view.select(section=section, measure=measure)
    spans = rows[rows["period"].str.contains("..", regex=False)] if len(rows) else rows
    return [
        {"level": row["subject"], "cases": _count(row, "numerator"), "of": _count(row, "denominator")}
        for _, row in spans[spans["subject"].isin(LEVELS)].iterrows()
    ]  # fmt: skip


def _count(row: Row, name: str) -> int | None:
    return None if pd.isna(row[name]) else int(row[name])


def _model(run_data: RunData) -> list[dict[str, Any]]:
    rows = run_data.select(section="outcome", analysis="C2")
    counts = {
        row["measure"]: int(row["estimate"])
        for _, row in rows[(rows["subject"] == "model") & rows["valid"]].iterrows()
        if row["measure"] in ("events", "parameters")
    }
    terms = [
        {
            "term": row["subject"], "against": row["reference"],
            "log_odds_ratio": round(math.log(row["estimate"]), 3),
            "standard_error": round(_standard_error(row, is_ratio=True), 4),
        }
        for _, row in rows[(rows["measure"] == "odds_ratio") & rows["valid"]].iterrows()
    ]  # fmt: skip
    if not terms or len(counts) < 2:
        return []
    return [{"outcome": "not healed", "events": counts["events"],
             "parameters": counts["parameters"], "terms": terms}]  # fmt: skip


def _refusals(summary: Summary, least: int, earlier: Collection[Summary]) -> tuple[str, ...]:
    cells = {f"agreement, {item['method']}": item["n"] for item in summary["agreement"]}
    for part in ("fill", "outcome"):
        for item in summary[part]:
            name = f"{part}, {item['level']}"
            # A masked count stands for a small one, or for one that would give one away.
            is_masked = item["cases"] is None
            cells[name] = 0 if is_masked else item["cases"]
            cells[f"{name}, the others"] = 0 if is_masked else item["of"] - item["cases"]
    models = {f"model of {item['outcome']}": item for item in summary["model"]}
    found = sharing_refusals(
        cells,
        events={name: item["events"] for name, item in models.items()},
        parameters={name: item["parameters"] for name, item in models.items()},
        minimum_cell=least,
        events_per_parameter=EVENTS_PER_PARAMETER,
    )
    return (*found, *_too_near(summary, least, earlier))


def _too_near(summary: Summary, least: int, earlier: Collection[Summary]) -> list[str]:
    """Name the comparisons that differ from one shared before by too few canals."""
    before = [item for old in earlier for item in old["agreement"]]
    sums = ("n", "sum_mm", "sum_of_squares_mm2")
    return [
        f"agreement, {item['method']}: too few canals came since the last summary"
        for item in summary["agreement"]
        if any(
            old["method"] == item["method"]
            and [old[name] for name in sums] != [item[name] for name in sums]
            and abs(item["n"] - old["n"]) < least
            for old in before
        )
    ]
