"""Rows of one invented clinician for a run built by hand; nothing here is a check value."""

import numpy as np
import pandas as pd

from lengthwise.report.clinician_view import clinician_view
from lengthwise.report.run_data import from_frames
from report_runs import CRITERIA, RunBuilder, build_run

WINDOW = "2025-Q3..2026-Q2"
QUARTERS = (
    "2024-Q3",
    "2024-Q4",
    "2025-Q1",
    "2025-Q2",
    "2025-Q3",
    "2025-Q4",
    "2026-Q1",
    "2026-Q2",
)
SLUG = "0123456789abcdef"
MET = {"two_methods": 60, "reading_dry": 52, "fill_within": 66}
CASES = 80


def _share(builder, name, measure, met, cases, period):
    target = CRITERIA[name][3]
    columns = {"scope": "clinician:C01", "target": target, "period": period}
    builder.share("clinicians", "B5", name, measure, met, cases, **columns)


def _message(builder, place, name, met, gap, suggestion, statement=None):
    statement, target = statement or CRITERIA[name][0], CRITERIA[name][3]
    text = (
        f"{statement}: {met} of {CASES} of your cases ({100 * met / CASES:.0f} in 100); with "
        f"{gap} more the target of {100 * target:.0f} in 100 is reached. {suggestion}."
    )
    builder.estimate(
        "clinicians", "B5", name, f"message_{place}", float(gap), unit="count", reason=text,
        scope="clinician:C01", numerator=met, denominator=CASES, target=target, period=WINDOW,
        n_used=CASES,
    )  # fmt: skip


def _conditions(builder):
    common = {"scope": "clinician:C01", "period": WINDOW}
    for name in ("read_wet", "small_file", "not_reconfirmed"):
        builder.share("clinicians", "B5", name, "condition_share", 20, 70, **common)
        builder.share("clinicians", "B5", name, "condition_among_discordant", 4, 12,
                      reference="electronic-film_file", **common)  # fmt: skip
    builder.share("clinicians", "B5", "electronic", "discordant_share", 12, 64,
                  reference="film_file", **common)  # fmt: skip


def _expected(builder):
    common = {"scope": "clinician:C01", "n_used": CASES, "period": WINDOW}
    subject = ("clinicians", "B5", "fill_within")
    ends = {"lower": 0.6, "upper": 1.7, "unit": "ratio"}
    builder.estimate(*subject, "observed_expected", 1.05, numerator=14, denominator=CASES,
                     **common, **ends)  # fmt: skip
    builder.estimate(*subject, "expected", 13.3, unit="count", **common)
    builder.estimate(*subject, "shrunken_odds_ratio", 1.02, **common, **ends)
    builder.estimate(*subject, "reliability", 0.55, **common)


def _private(builder):
    common = {"scope": "clinician:C01", "unit": "count", "n_used": CASES}
    builder.estimate(
        "clinicians", "B5", "fill_within", "own_change", 1.6, reference="2025-Q4",
        reason="own cases changed most likely with 2025-Q4", **common,
    )  # fmt: skip
    said = "without any change a signal comes after 500 own cases on average"
    builder.estimate("clinicians", "B6", "fill_beyond", "cusum_threshold", 4.5, reason=said,
                     **common)  # fmt: skip
    passed = "the score passed its threshold in 2026-05, at the 41th own case"
    builder.estimate("clinicians", "B6", "fill_beyond", "cusum_signal", 1.0, reason=passed,
                     **common)  # fmt: skip


def clinician_run(
    *,
    peers=(0.7, 0.75, 0.825, 0.85, 0.9),
    messages=True,
    small=False,
    private=False,
    statement=None,
):
    """Return the view of one clinician; `small` leaves too few cases for any share."""
    builder = RunBuilder()
    for name, met in MET.items():
        _share(builder, name, "share", *((4, 8) if small else (met, CASES)), WINDOW)
        for place, quarter in enumerate(QUARTERS):
            cases = 4 if small else 20
            _share(builder, name, "share_in_quarter", cases - place % 4, cases, quarter)
    if messages:
        _message(
            builder, 1, "two_methods", 60, 12, "Record a second, independent method", statement
        )
        _message(
            builder, 2, "reading_dry", 52, 20, "Dry the canal before the reading", statement
        )
    _conditions(builder)
    _expected(builder)
    if private:
        _private(builder)
    for name, met in MET.items():
        for share in sorted([*peers, met / CASES]) if peers else ():
            builder.point("peers", name, "clinician", "", 0, share)
    builder.listed("discordant_canals", "T0019", "P", "26", -1.6, "wet canal", clinician="C01")
    builder.listed("incidents", "T0031", "MB", "36", np.nan, "perforation", clinician="C01")
    suggestions = {"two_methods": "Record a second, independent method",
                   "reading_dry": "Dry the canal before the reading"}  # fmt: skip
    run = dict(build_run().run)
    criteria = [
        {**item, "suggestion": suggestions.get(item["id"], "")}
        for item in run["settings"]["criteria"]
    ]
    if statement:
        criteria = [{**item, "statement": statement} for item in criteria]
    limits = {"minimum_clinicians": 5, "minimum_denominator": 10}
    run["settings"] = {**run["settings"], "criteria": criteria, "small_numbers": limits}
    frames = {
        name: pd.DataFrame(getattr(builder, name)) for name in ("estimates", "points", "lists")
    }
    if not builder.points:
        frames["points"] = build_run().points.iloc[0:0]
    findings = build_run().findings.iloc[0:0]
    return clinician_view(
        from_frames({"run": run, **frames, "findings": findings}), "C01", SLUG
    )
