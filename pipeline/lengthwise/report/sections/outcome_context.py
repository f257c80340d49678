"""Published results on filling level and outcome: context beside a practice's own figures."""

from lengthwise.report.tables import bullet_list

# (what was found, source, setting); directions differ between them, and none is a target.
PUBLISHED = (
    (
        "Not healed, short 43 of 53, flush 13 of 103, beyond 9 of 108",
        "Terauchi and others 2023, J Endod 49:664",
        "retreatments with a lesion, one private practice, level read from the foramen",
    ),
    (
        "Odds ratio of not healed, short 1.61 (1.03 to 2.50), beyond 2.27 (1.33 to 3.85), "
        "inverted from the printed ratios of success",
        "Jurič and others 2024, Int Endod J",
        "1259 teeth, recall 91 in 100, adjusted",
    ),
    (
        "Success, short 85.5, within 86.5, beyond 70.8 in 100",
        "Kojima and others 2004, 26 studies of 1956 to 1995, read in an appraisal",
        "studies pooled, criteria mixed",
    ),
    (
        "Filling length did not stay in the adjusted model",
        "de Chevigny and others 2008, J Endod 34:258",
        "510 teeth, 86 in 100 healed, phases pooled",
    ),
)
# From the studies `outcome_adjusted` and `outcome_standardised` of the coverage bench.
HELD = (
    "In simulated practices of 20 to 500 patients adjusted associations and differences of risk "
    "held the truth 92 to 99 times in 100, standardised risks, their ratios and shares of events "
    "90 to 100 times; the handbook tells where."
)


def published_context() -> str:
    """Return the published results with source and setting, marked as context."""
    lines = [f"{found} ({source}; {setting})." for found, source, setting in PUBLISHED]
    opening = (
        "Published elsewhere, as context only. Settings, criteria and films differ, the "
        "direction for fillings beyond is not settled, and none of these is a target:"
    )
    return f"{opening}\n\n{bullet_list(lines)}"
