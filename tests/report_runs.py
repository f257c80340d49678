"""Builds a stored run by hand, so that reports are tested without a database.

The data are invented: lengths and outcomes come from a seeded generator, and shares carry
Wilson intervals from statsmodels. Nothing here is a check value.
"""

import json
import re
from itertools import count

import numpy as np
import pandas as pd
from statsmodels.stats.proportion import proportion_confint

from lengthwise.report.run_data import RunData, from_frames
from report_comparison_rows import add_comparisons, add_own_errors
from report_outcome_rows import add_outcome_depth

PERIOD = "2026-Q2"
SPAN = "2024-Q3..2026-Q2"
QUARTERS = ["2024-Q3", "2024-Q4", "2025-Q1", "2025-Q2", "2025-Q3", "2025-Q4", "2026-Q1", PERIOD]
LEVELS = ("short", "within", "beyond", "not_assessable")
METHODS = {  # method: (bias, sd, n, n_missing), mm
    "electronic": (-0.08, 0.42, 212, 9),
    "film": (0.31, 0.88, 187, 34),
    "tactile": (-0.55, 1.20, 96, 125),
    "paper_point": (0.05, 0.51, 58, 163),
    "cbct": (0.12, 0.60, 7, 214),
}
CRITERIA = {  # id: (statement, numerator, denominator, target)
    "two_methods": ("Two independent methods are recorded before filling", 171, 214, 0.9),
    "reading_dry": ("The electronic reading is taken in a dry canal", 188, 212, 0.9),
    "fill_within": ("The filling ends within the preset", 160, 214, 0.8),
    "reviewed": ("The tooth is reviewed at 12 months or later", 61, 104, 0.6),
}


class RunBuilder:
    """Collects rows of the result tables."""

    def __init__(self, run_id: str = "run-2026q2-a", seed: int = 7) -> None:
        self.run_id = run_id
        self.random = np.random.default_rng(seed)
        self.estimates: list[dict] = []
        self.points: list[dict] = []
        self.lists: list[dict] = []
        self.positions = count(1)

    def estimate(self, section, analysis, subject, measure, value, **others):
        """Add one estimate; keyword arguments are further columns."""
        row = {
            **{"run_id": self.run_id, "section": section, "analysis": analysis},
            **{"measure": measure, "subject": subject, "reference": "", "stratum_kind": ""},
            **{"stratum": "", "period": SPAN, "scope": "practice", "unit": "proportion"},
            **{"estimate": value, "lower": np.nan, "upper": np.nan, "level": 0.95},
            **{"numerator": np.nan, "denominator": np.nan, "n_used": 0, "n_missing": 0},
            **{
                "n_clusters": np.nan,
                "target": np.nan,
                "method": "",
                "valid": True,
                "reason": "",
            },
        } | others
        scope = "" if row["scope"] == "practice" else row["scope"]
        names = [analysis, subject, row["reference"], row["stratum"], row["period"], measure]
        names.append(scope)
        # As the analyses write them: a dot stands between the parts and nowhere else.
        row["result_id"] = ".".join(re.sub(r"[^\w-]", "-", name) for name in names if name)
        row["position"] = next(self.positions)
        self.estimates.append(row)

    def share(self, section, analysis, subject, measure, numerator, denominator, **others):
        """Add a proportion; below 10 in the denominator it is refused."""
        counts = {"numerator": numerator, "denominator": denominator, "n_used": denominator}
        if denominator < 10:
            refusal = {"valid": False, "reason": "fewer than 10 in the denominator"}
            self.estimate(
                section, analysis, subject, measure, np.nan, **counts, **refusal, **others
            )
            return
        lower, upper = proportion_confint(numerator, denominator, method="wilson")
        columns = counts | {"lower": lower, "upper": upper, "method": "Wilson"} | others
        self.estimate(section, analysis, subject, measure, numerator / denominator, **columns)

    def point(self, figure, panel, series, label, x, y, **others):
        row = {
            **{"run_id": self.run_id, "figure": figure, "panel": panel, "series": series},
            **{"position": len(self.points), "label": label, "x": x, "y": y},
            **{"lower": np.nan, "upper": np.nan, "n": np.nan},
        } | others
        self.points.append(row)

    def listed(self, name, treatment, canal, tooth, value_mm, detail, clinician="C02"):
        self.lists.append(
            {
                **{"run_id": self.run_id, "list_name": name, "position": len(self.lists)},
                **{"treatment_id": treatment, "canal": canal, "tooth": tooth},
                **{"clinician_id": clinician, "period": PERIOD, "value_mm": value_mm},
                "detail": detail,
            }
        )


def build_run(run_id: str = "run-2026q2-a", seed: int = 7, **settings) -> RunData:
    """Return a whole run; `settings` replace or add settings of the run."""
    builder = RunBuilder(run_id, seed)
    for part in (
        _agreement,
        _fill,
        _criteria,
        _outcome,
        _flow,
        _quality,
        _charts,
        _clinicians,
        _fill_readings,
        _lists,
    ):
        part(builder)
    add_comparisons(builder, PERIOD)
    add_own_errors(builder)
    findings = pd.DataFrame(
        [
            (
                "reading.length_out_of_range",
                "readings",
                3,
                "error",
                "check the length and unit",
            ),
            (
                "canal.unknown_treatment",
                "canals",
                2,
                "error",
                "add the treatment or mend its key",
            ),
            (
                "fill.offset_missing",
                "fills",
                9,
                "warning",
                "leave empty if the film shows no end",
            ),
        ],
        columns=["code", "export", "count", "severity", "remedy"],
    )
    frames = {
        "run": _run_row(run_id, settings),
        "estimates": pd.DataFrame(builder.estimates),
        "points": pd.DataFrame(builder.points),
        "lists": pd.DataFrame(builder.lists),
        "findings": findings,
    }
    return from_frames(frames)


def empty_run(**settings) -> RunData:
    """Return a run in which nothing was analysed, with the columns of the result tables."""
    full = build_run(**settings)
    frames = {name: getattr(full, name).iloc[0:0] for name in ("estimates", "points", "lists")}
    return from_frames({"run": full.run, **frames, "findings": full.findings.iloc[0:0]})


def _run_row(run_id, settings):
    default = {
        "practice_name": "Demo practice (invented)",
        "purpose": "audit",
        "approval_reference": "",
        "re_audit_date": "2026-12-01",
        "preset": "0-2",
        "confidence_level": 0.95,
        "thresholds": {
            **{"tolerance_mm": 0.5, "wide_tolerance_mm": 1.0},
            **{"watch_mm": 0.5, "review_mm": 1.0},
        },
        "follow_up": {"first_countable_months": 12, "uncertain_until_months": 48},
        "profile": {"name": "internal", "minimum_count": 5},
        "criteria": [_criterion(name, *values) for name, values in CRITERIA.items()],
        "actions": [
            {
                "gap": "20 of 214 canals short of the target for two methods",
                "cause": "The film reading is often not written down",
                "action": "Add the film reading to the treatment template",
                "owner_role": "Lead clinician",
                "due": "2026-09-15",
                "measure": "Share of canals with two methods",
                "status": "open",
            }
        ],
    }
    return {
        **{"run_id": run_id, "period": PERIOD, "created_at": "2026-07-03 09:30:00"},
        **{"version": "0.1.0", "settings": json.dumps(default | settings)},
        "inputs": json.dumps(
            [
                {
                    "file": "treatments.csv",
                    "export": "treatments",
                    "sha256": "ab" * 32,
                    "rows": 160,
                },
                {
                    "file": "readings.csv",
                    "export": "readings",
                    "sha256": "cd" * 32,
                    "rows": 612,
                },
            ]
        ),
        "versions": json.dumps({"python": "3.11", "pandas": "3.1.1", "duckdb": "2.0.1"}),
    }


def _criterion(name, statement, _numerator, _denominator, target):
    return {
        **{"id": name, "statement": statement, "rationale": "Shipped as an example"},
        **{"source": "the practice's own", "numerator": name, "denominator": "canals filled"},
        **{"exceptions": "no canal found", "target": target, "owner": "Lead clinician"},
        **{"version": 1, "valid_from": "2024-07-01"},
    }


def _agreement(builder):
    for method, (bias, sd, n, missing) in METHODS.items():
        _compared(builder, method, "confirmed", bias, sd, n, missing)
        if n >= 10:
            confirmed = builder.random.normal(20.5, 1.8, n)
            difference = builder.random.normal(bias, sd, n)
            for x, y in zip(confirmed + difference / 2, difference, strict=True):
                builder.point("bland_altman", method, "canal", "", x, y)
    _compared(builder, "electronic", "film", -0.39, 0.95, 180, 41)
    _compared(builder, "electronic", "tactile", 0.47, 1.22, 90, 131)


def _compared(builder, subject, reference, bias, sd, n, missing):
    common = {"reference": reference, "unit": "mm", "n_used": n, "n_missing": missing}
    if n < 10:
        for measure in ("bias", "lower_limit", "upper_limit", "share_within_0_5"):
            refusal = {"valid": False, "reason": "fewer than 10 pairs"}
            builder.estimate("agreement", "A2", subject, measure, np.nan, **common, **refusal)
        return
    half = {
        "bias": 1.96 * sd / np.sqrt(n),
        "sd": 0.05,
        "lower_limit": 0.12,
        "upper_limit": 0.12,
    }
    values = {"bias": bias, "sd": sd}
    values |= {"lower_limit": bias - 1.96 * sd, "upper_limit": bias + 1.96 * sd}
    common |= {"n_clusters": int(n * 0.7), "method": "variance components, MOVER intervals"}
    for measure, value in values.items():
        ends = {"lower": value - half[measure], "upper": value + half[measure]}
        builder.estimate("agreement", "A2", subject, measure, value, **ends, **common)
    from scipy.stats import norm

    for measure, edge in (("share_within_0_5", 0.5), ("share_within_1_0", 1.0)):
        within = norm.cdf((edge - bias) / sd) - norm.cdf((-edge - bias) / sd)
        others = {"reference": reference, "n_missing": missing}
        builder.share("agreement", "A6", subject, measure, round(n * within), n, **others)


def _levels(builder, denominator, period=SPAN, **stratum):
    shares = builder.random.dirichlet([3.5, 15, 2.5, 1.0])
    counts = np.floor(shares * denominator).astype(int)
    counts[1] += denominator - counts.sum()
    for level, numerator in zip(LEVELS, counts, strict=True):
        target = {"target": 0.8} if level == "within" else {}
        columns = {"period": period, "reference": ""} | stratum | target
        builder.share("fill", "B1", level, "share", int(numerator), denominator, **columns)


def _fill(builder):
    for level, numerator in zip(LEVELS, (31, 160, 16, 7), strict=True):
        target = {"target": 0.8} if level == "within" else {}
        builder.share("fill", "B1", level, "share", numerator, 214, **target)
    for quarter in QUARTERS:
        size = int(builder.random.integers(20, 34))
        _levels(builder, size, quarter, stratum_kind="quarter", stratum=quarter)
    for number, size in enumerate((64, 48, 41, 33, 21, 7), start=1):
        _levels(builder, size, stratum_kind="clinician", stratum=f"C{number:02d}")
    for tooth, size in (("anterior", 52), ("premolar", 61), ("molar", 101)):
        _levels(builder, size, stratum_kind="tooth_type", stratum=tooth)
    _levels(builder, 214, stratum_kind="site", stratum="S1")
    _fill_offsets(builder)


def _fill_offsets(builder):
    """Numbers in mm and a histogram with the limits of the preset."""
    values = {"mean": -0.9, "sd": 0.7, "lower_quartile": -1.4, "median": -0.9}
    for measure, value in (values | {"upper_quartile": -0.4}).items():
        ends = {"lower": -1.0, "upper": -0.8} if measure == "mean" else {}
        builder.estimate("fill", "B1", "fill_offset", measure, value, unit="mm", **ends)
    for x, y in ((-2.5, 12), (-2.0, 20), (-1.5, 38), (-1.0, 62), (-0.5, 44), (0.0, 31)):
        builder.point("fill_offsets", "", "fillings", "", x, y, n=y)
    for name, limit in (("lower", -2.0), ("upper", 0.0)):
        builder.point("fill_offsets", "", "limit", name, limit, 0.0)


def _criteria(builder):
    for name, (_, numerator, denominator, target) in CRITERIA.items():
        builder.share("criteria", "B1", name, "share", numerator, denominator, target=target)
        gap = numerator / denominator - target
        cases = max(0, int(np.ceil(-gap * denominator)))
        counts = {"n_used": denominator}
        builder.estimate("criteria", "B1", name, "gap_points", gap, **counts)
        builder.estimate("criteria", "B1", name, "gap_cases", cases, unit="count", **counts)
        builder.estimate("criteria", "B1", name, "exceptions", 3, unit="count", **counts)


def _outcome(builder):
    for level, bad, total in (("short", 7, 24), ("within", 9, 61), ("beyond", 5, 19)):
        builder.share("outcome", "C1", level, "share_not_healed", bad, total)
    contrasts = {"short": (0.144, -0.04, 0.36), "beyond": (0.116, -0.06, 0.35)}
    for level, (value, lower, upper) in contrasts.items():
        ends = {"lower": lower, "upper": upper, "reference": "within", "n_used": 85}
        method = {"method": "Newcombe"}
        unit = {"unit": "risk_difference"}
        builder.estimate(
            "outcome", "C1", level, "risk_difference", value, **ends, **method, **unit
        )
        ends |= {"unit": "odds_ratio", "lower": 0.6, "upper": 7.2}
        builder.estimate("outcome", "C1", level, "odds_ratio", 2.4, method="exact", **ends)
        test = {"reference": "within", "unit": "proportion", "method": "Fisher's exact test"}
        builder.estimate("outcome", "C1", level, "p_value", 0.21, n_used=85, **test)
    adjusted = {
        "short": (1.8, 0.6, 5.6),
        "beyond": (2.1, 0.7, 6.4),
        "preop_lesion": (3.2, 1.1, 9.0),
    }
    for name, (value, lower, upper) in adjusted.items():
        ends = {"lower": lower, "upper": upper, "unit": "odds_ratio", "n_used": 104}
        others = {"n_clusters": 92, "method": "GEE, exchangeable, robust"}
        reference = {"reference": "within" if name in LEVELS else "none"}
        builder.estimate(
            "outcome", "C2", name, "odds_ratio", value, **ends, **others, **reference
        )
    add_outcome_depth(builder)


def _flow(builder):
    steps = {"treatments": 160, "canals": 228, "readings": 612, "canals_with_pairs": 221}
    steps |= {"fills_assessable": 205, "teeth_due": 104, "teeth_reviewed": 61}
    steps |= {"teeth_countable": 58}
    for name, value in steps.items():
        builder.estimate("flow", "flow", name, "count", value, unit="count", n_used=value)


def _quality(builder):
    fields = {"treatments.preop_pai": (140, 160), "canals.confirmed_length_mm": (221, 228)}
    fields |= {"readings.canal_state": (533, 612), "fills.fill_offset_mm": (205, 214)}
    for name, (present, rows) in fields.items():
        builder.share("quality", "quality", name, "completeness", present, rows)
    for name, (accepted, aside) in {"treatments": (160, 2), "readings": (612, 3)}.items():
        for measure, value in (("rows_accepted", accepted), ("rows_quarantined", aside)):
            columns = {"unit": "count", "n_used": value}
            builder.estimate("quality", "quality", name, measure, value, **columns)


def _charts(builder):
    months = [f"{year}-{month:02d}" for year in (2025, 2026) for month in range(1, 13)][:18]
    for x, month in enumerate(months, start=1):
        y = float(builder.random.binomial(12, 0.75) / 12)
        builder.point("run_chart", "fill_within", "share", month, x, y, n=12)
        builder.point("run_chart", "fill_within", "median", month, x, 0.75)
    run = {"unit": "count", "n_used": 18, "method": "runs rules"}
    builder.estimate("fill", "B2", "fill_within", "longest_run", 4, **run)
    builder.estimate("fill", "B2", "fill_within", "crossings", 9, **run)
    _single_values(builder)
    for number, (n, y) in enumerate([(64, 0.2), (48, 0.1), (41, 0.29), (33, 0.15), (21, 0.24)]):
        builder.point("funnel", "fill_outside", "unit", f"C{number + 1:02d}", n, y, n=n)
    for n in range(10, 72, 2):
        spread = np.sqrt(0.2 * 0.8 / n)
        for series, z in (("limit_95", 1.96), ("limit_99_8", 3.09)):
            ends = {"lower": max(0.0, 0.2 - z * spread), "upper": min(1.0, 0.2 + z * spread)}
            builder.point("funnel", "fill_outside", series, "", n, 0.2, **ends)


def _clinicians(builder):
    for number, (observed, cases, expected) in enumerate(
        [(8, 64, 6.1), (5, 48, 4.8), (9, 41, 4.2), (3, 33, 3.1), (2, 21, 2.2)], start=1
    ):
        common = {"scope": f"clinician:C{number:02d}", "n_used": cases}
        ratio = {"lower": 0.4, "upper": 2.9, "unit": "ratio"}
        counts = {"numerator": observed, "denominator": cases}
        subject = ("clinicians", "B5", "fill_beyond")
        builder.estimate(
            *subject, "observed_expected", observed / expected, **common, **ratio, **counts
        )
        builder.estimate(*subject, "expected", expected, unit="count", **common)
        builder.estimate(*subject, "shrunken_odds_ratio", 1.1, **common, **ratio)
        builder.estimate(*subject, "reliability", 0.6, **common)


def _single_values(builder):
    """A chart of cases between incidents, and one refused chart of monthly means."""
    outside = {"unit": "count", "n_used": 12, "method": "g chart"}
    builder.estimate("process", "B3", "incident", "g_outside", 0, **outside)
    builder.estimate("process", "B3", "incident", "g_centre", 11.5, **outside)
    refusal = {"valid": False, "reason": "not enough points: 4 of at least 10"}
    builder.estimate("process", "B3", "fill_offset_mm", "xmr_outside", np.nan, **refusal)
    for x, y in enumerate((12, 3, 25, 8, 0, 40, 15, 7, 19, 5, 11, 33)):
        month = f"2025-{x + 1:02d}"
        ends = {"lower": 0.0, "upper": 60.8}
        builder.point("cases_between", "incident", "value", month, x, y, **ends)
        builder.point("cases_between", "incident", "centre", month, x, 11.5)


def _fill_readings(builder):
    section, stratum = "fill_readings", {"stratum_kind": "readers", "stratum": "two_readers"}
    builder.share(section, "A9", "fill_level", "same_level", 48, 60, **stratum)
    kappa = {"lower": 0.42, "upper": 0.81, "unit": "coefficient"}
    builder.estimate(section, "A9", "fill_level", "level_kappa", 0.62, **kappa, **stratum)
    builder.share(section, "film_quality", "film_acceptable", "share", 132, 140, target=0.95)
    note = {"reason": "56 in 100 readings stand on half millimetres"}
    builder.share(section, "heaping", "fill_offset_mm", "half_step_share", 120, 214, **note)


def _lists(builder):
    builder.listed("incidents", "T0031", "MB", "36", np.nan, "perforation")
    builder.listed("beyond_lower_posterior", "T0042", "D", "46", 1.2, "core beyond")
    builder.listed("beyond_lower_posterior", "T0077", "ML", "37", 0.4, "sealer beyond")
    builder.listed("discordant_canals", "T0019", "P", "26", -1.6, "wet canal; metal contact")
