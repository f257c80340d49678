"""Words of the trade and of statistics, in plain words; only those that a run may use."""

from lengthwise.report import escape
from lengthwise.report.run_data import RunData

# Plain explanations, in our own words; common usage, no source.
TERMS = (
    ("Agreement", "How closely two methods give the same length. Not the same as accuracy, "
     "which would need the true length."),
    ("Apex, radiographic", "The end of the root as a film shows it. The foramen, where the "
     "canal opens, often lies a little before it and to one side."),
    ("Beyond, short, within", "Where the end of the filling lies on the film: past the "
     "radiographic apex, further before it than the preset allows, or inside the preset."),
    ("Bias", "The mean difference of two methods in mm. Above nought: the first reads longer."),
    ("Case-mix", "How hard or how ill the treated teeth were, such as lesion, tooth type and "
     "retreatment."),
    ("Confirmed length", "The length finally worked to. It was chosen with the other methods "
     "in view."),
    ("Criterion and target", "One measurable statement of good care, and the share of cases in "
     "which the practice wants it met."),
    ("Crude, adjusted, standardised", "As counted; with other recorded differences held "
     "alike; or as if all teeth of this practice had been filled to one level."),
    ("Discordant canal", "A canal where two methods differ by more than the threshold of the "
     "settings."),
    ("Electronic reading", "A length from an apex locator, which follows the electrical "
     "resistance of the canal."),
    ("Funnel plot", "Each clinician's share against the number of cases. Inside the limits, "
     "chance alone usually explains the distance from the target."),
    ("Healed, not healed", "Healed: PAI 1 or 2, no signs or symptoms, in function. Not healed: "
     "the other countable results, read strictly."),
    ("Interval (95%)", "The range of true values that go well with the data. Of 100 such "
     "intervals about 95 hold the true value."),
    ("Limits of agreement", "The range in which about 95 of 100 differences between two "
     "methods lie."),
    ("Median", "The middle value: half of the months lie at or above it."),
    ("Odds ratio, risk difference", "Two ways to compare shares. A difference of 10 in 100 "
     "means ten more of a hundred teeth; an odds ratio above 1 means the event is more "
     "frequent, but not by that many times."),
    ("Own error", "How much a method scatters by itself around the unknown true length, worked "
     "out where three or more methods read the same canals."),
    ("PAI", "Periapical index, 1 (healthy) to 5, read on a film."),
    ("Points", "Differences of shares, in 100: from 55 to 60 in 100 is +5 points."),
    ("Preset", "The range in which a filling's end counts as within, named on page one."),
    ("Run chart", "Monthly shares around their median. Too many months on one side, or too few "
     "crossings, are a signal that something changed."),
    ("SD (standard deviation)", "A size of scatter: about two thirds of values lie within one "
     "SD of the mean."),
    ("Target not shown as met or missed", "Where the interval includes the target, the data do "
     "not decide."),
    ("Weighted kappa, ICC", "How far readers agree beyond chance; 1 is complete agreement and "
     "0 no more than chance."),
)  # fmt: skip


def glossary(run_data: RunData) -> str:
    """Return the terms in the order of the alphabet, each with its plain meaning."""
    lines = (
        f"**{escape.markdown(term)}.** {escape.markdown(meaning)}" for term, meaning in TERMS
    )
    return "\n\n".join(lines) + "\n"
