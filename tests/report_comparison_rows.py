"""Rows of the hand-built run on earlier quarters and on each method's own error."""

import numpy as np

EARLIER = {"previous_quarter": "2026-Q1", "quarter_last_year": "2025-Q2"}
# name: (met and total then, met and total now, change with its interval)
CHANGES = {
    "fill_within": ((150, 200), (160, 214), (-0.002, -0.09, 0.08)),
    "two_methods": ((140, 200), (171, 214), (0.10, 0.02, 0.18)),
    "electronic_within_tolerance": ((150, 205), (160, 212), (0.02, -0.07, 0.11)),
}
OWN_SD = {"paper_point": (0.31, 0.25, 0.36), "electronic": (0.42, 0.37, 0.47)}


def add_comparisons(builder, period):
    for name, (then, now, change) in CHANGES.items():
        for kind, earlier in EARLIER.items():
            common = {"reference": earlier, "stratum_kind": "comparison", "stratum": kind}
            pair = ("comparisons", "B7", name)
            builder.share(*pair, "share_then", *then, **common | {"period": earlier})
            builder.share(*pair, "share_now", *now, **common | {"period": period})
            value, lower, upper = change
            ends = {"lower": lower, "upper": upper, "period": period}
            builder.estimate(*pair, "share_change", value, **common | ends)


def add_own_errors(builder):
    for place, (method, (value, lower, upper)) in enumerate(OWN_SD.items(), start=1):
        topic = ("agreement", "A4", method)
        ends = {"unit": "mm", "n_used": 58, "lower": lower, "upper": upper}
        builder.estimate(*topic, "own_sd", value, **ends)
        builder.estimate(*topic, "rank", place, lower=place, upper=place, unit="count")
        builder.estimate(*topic, "relative_bias", 0.01 * place, **ends)
        builder.estimate(*topic, "chance_most_precise", np.nan_to_num(2 - place), n_used=58)
