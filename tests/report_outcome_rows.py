"""Outcome rows of the hand-built run, in the shape in which the analyses write them."""

CONTRASTS = {"short": (0.05, -0.04, 0.13), "beyond": (-0.09, -0.18, -0.01)}
RISKS = {"within": (0.12, 0.08, 0.17), "short": (0.17, 0.1, 0.24), "beyond": (0.03, 0.0, 0.08)}
MODEL = {"n_used": 104, "n_clusters": 92, "denominator": 104}


def add_outcome_depth(builder):
    """Add C4 to C10 and the chain; here teeth filled beyond did better than within."""
    _risks(builder)
    _dose(builder)
    _follow_up(builder)
    _time(builder)
    _chain(builder)
    _beside(builder)
    _split(builder)


def _bounded(builder, analysis, subject, measure, ends, **others):
    value, lower, upper = ends
    builder.estimate(
        "outcome", analysis, subject, measure, value, lower=lower, upper=upper, **others
    )


def _risks(builder):
    for level, ends in RISKS.items():
        _bounded(builder, "C4", level, "standardised_risk", ends, **MODEL)
    for level, ends in CONTRASTS.items():
        against = MODEL | {"reference": "within"}
        _bounded(builder, "C4", level, "risk_difference", ends, **against)
        _bounded(builder, "C4", level, "risk_ratio", (0.8, 0.3, 2.1), **against)
        _bounded(builder, "C4", level, "share_of_events", (0.02, -0.05, 0.1), **against)
        builder.estimate("outcome", "C9", level, "e_value", 1.81, **against)
        builder.estimate("outcome", "C9", level, "e_value_limit", 1.0, **against)


def _dose(builder):
    for level, ends in {"short": (1.4, 0.5, 4.0), "beyond": (0.4, 0.2, 0.9)}.items():
        _bounded(builder, "C5", level, "odds_ratio_per_mm", ends, unit="odds_ratio", **MODEL)
    builder.estimate("outcome", "C5", "straight line", "p_value", 0.25, unit="p_value")
    for step in range(-30, 11):
        x = step / 10
        y = 1.0 + 0.2 * abs(x + 1)
        ends = {"lower": y / 1.5, "upper": 1.5 * y, "n": 104}
        builder.point(
            "dose_response", "odds_ratio", "odds ratio", "against -1 mm", x, y, **ends
        )


def _follow_up(builder):
    for measure, count in (("recall_raw", 43), ("recall_adjusted", 45)):
        builder.share("outcome", "C7", "teeth due", measure, count, 104)
    for name, count, total in (("short", 12, 30), ("within", 26, 60), ("beyond", 7, 14)):
        stratum = {"stratum_kind": "level", "stratum": name}
        builder.share("outcome", "C7", "teeth due", "share_reviewed", count, total, **stratum)
    weights = {"effective_n": 41.0, "largest_weight": 2.1, "mean_weight": 1.0}
    weights |= {"largest_imbalance_before": 0.21, "largest_imbalance_after": 0.03}
    for measure, value in weights.items():
        builder.estimate("outcome", "C7", "weights", measure, value, denominator=45)
    _bounded(
        builder, "C7", "lesion", "odds_ratio_of_review", (1.4, 0.8, 2.5), unit="odds_ratio"
    )
    for level, ends in CONTRASTS.items():
        _bounded(builder, "C7", level, "risk_difference", ends, reference="within")
        builder.estimate(
            "outcome", "C7", level, "difference_lowest", -0.4, unit="risk_difference"
        )
        builder.estimate(
            "outcome", "C7", level, "difference_highest", 0.5, unit="risk_difference"
        )
        counts = {"unit": "count", "denominator": 18}
        builder.estimate("outcome", "C7", level, "tipping_count", 7, **counts)
        builder.estimate("outcome", "C7", level, "expected_count", 2, **counts)


def _time(builder):
    kept = (0.96, 0.92, 0.98)
    _bounded(builder, "C8", "any loss", "survival_24_months", kept, n_used=104)
    for month in range(25):
        for panel, share in (
            ("any loss", 1 - month / 300),
            ("endodontic loss", 1 - month / 600),
        ):
            _band(builder, "tooth_survival", panel, month, share)
        _band(builder, "healing_time", "teeth with a lesion", month, month / 50)
    healed = {"n_used": 60, "reason": "no interval: an estimate of the curve alone"}
    builder.estimate(
        "outcome", "C8", "teeth with a lesion", "healed_by_24_months", 0.8, **healed
    )
    _bounded(
        builder, "C8", "teeth with a lesion", "healed_by_12_months", (0.4, 0.3, 0.5), n_used=60
    )
    yearly = {"reference": "within", "unit": "odds_ratio"}
    _bounded(
        builder, "C8", "short", "odds_ratio_of_healing_in_a_year", (0.6, 0.2, 1.3), **yearly
    )


def _band(builder, figure, panel, month, share):
    ends = {"lower": max(share - 0.05, 0.0), "upper": min(share + 0.05, 1.0)}
    builder.point(figure, panel, "curve", "", month, share, n=104 - month, **ends)


def _chain(builder):
    builder.share("outcome", "chain", "electronic", "share_doubtful", 60, 200)
    for level, doubtful, other in (("short", 12, 14), ("beyond", 5, 15)):
        for name, count, total in (("doubtful", doubtful, 60), ("other", other, 140)):
            stratum = {"stratum_kind": "readings", "stratum": name}
            builder.share(
                "outcome", "chain", level, "share_of_fillings", count, total, **stratum
            )
        difference = (doubtful / 60 - other / 140, -0.03, 0.2)
        _bounded(builder, "chain", level, "share_difference", difference, reference="within")


def _beside(builder):
    counts = {"unit": "count"} | MODEL
    sizes = {"events": 21.0, "parameters": 2.0, "events_per_parameter": 10.5}
    sizes |= {"largest_patient": 4.0, "steps": 6.0, "working_correlation": 0.07}
    for measure, value in sizes.items():
        builder.estimate("outcome", "C2", "model", measure, value, method="GEE", **counts)
    for level in CONTRASTS:
        for end, value in (("lowest", 1.4), ("highest", 1.9)):
            measure = f"odds_ratio_without_one_patient_{end}"
            builder.estimate("outcome", "C2", level, measure, value, unit="odds_ratio")
    builder.share("outcome", "C2", "lesion", "missing_values", 3, 104)
    check = "one ratio for all cuts"
    builder.estimate("outcome", "C6", check, "p_value", 0.21, method="Brant test")
    builder.estimate("outcome", "C10", "short", "fraction_missing", 0.12)
    for analysis in ("C3", "C6", "C10"):
        for level in CONTRASTS:
            ends = (1.7, 0.6, 4.9)
            others = {"unit": "odds_ratio", "reference": "within"} | MODEL
            _bounded(builder, analysis, level, "odds_ratio", ends, **others)


def _split(builder):
    for kind, name in (("lesion", "with_a_lesion"), ("pulp", "vital_pulp")):
        stratum = {"stratum_kind": kind, "stratum": name}
        for level, events, total in (("within", 4, 30), ("short", 3, 12), ("beyond", 1, 6)):
            builder.share("outcome", "C1", level, "share_not_healed", events, total, **stratum)
    for group, events in enumerate((1, 2, 3, 5, 9), start=1):
        name = f"fifth {group} of risk"
        builder.share("outcome", "C2", name, "seen_share", events, 21)
        builder.estimate("outcome", "C2", name, "expected_share", 0.05 * group, n_used=21)
        seen = {"lower": events / 42, "upper": events / 21 + 0.2, "n": 21}
        builder.point(
            "outcome_calibration", "fifths", "seen", name, 0.05 * group, events / 21, **seen
        )
