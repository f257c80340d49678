"""What a report of an agreement study should say, and where this one says it."""

from collections.abc import Callable
from dataclasses import dataclass

from lengthwise.report.run_data import RunData
from lengthwise.report.tables import pipe_table, text
from lengthwise.report.wording import name_of, number, period_words

# A person writes here; the tool must not guess.
BLANK = "________ (to be written)"
READ_BY = {"two_readers": "two readers", "one_reader_twice": "one reader twice"}


@dataclass(frozen=True, slots=True)
class Item:
    """One item: its number, what it asks for, and how the tool answers (None: a person)."""

    number: int
    asks: str
    answer: Callable[[RunData], str] | None = None


def _methods(run_data: RunData) -> str:
    rows = run_data.select(section="agreement", analysis="A2", measure="bias")
    named = [name_of(str(code)) for code in dict.fromkeys(rows["subject"])]
    return f"Described by kind, without makers' names: {', '.join(named)}" if named else ""


def _counts(run_data: RunData) -> str:
    rows = run_data.select(section="agreement", analysis="A2", measure="bias")
    rows = rows[rows["reference"] == "confirmed"]
    if rows.empty:
        return ""
    return "; ".join(
        f"{name_of(row['subject'])} {int(row['n_used'])} canals{_patients(row['n_clusters'])}"
        for _, row in rows.iterrows()
    )


def _patients(count: float) -> str:
    return f" in {int(count)} patients" if count == count and count is not None else ""


def _numbers(run_data: RunData) -> str:
    """Say how many canals, patients, repeats, clinicians and films read twice there were."""
    repeats = run_data.select(section="agreement", analysis="A3", measure="within_sd")
    said = [_counts(run_data)] + [
        f"{name_of(row['subject'])} read again in {int(row['n_clusters'])} canals"
        for _, row in repeats[repeats["valid"]].iterrows()
    ]
    rows = run_data.estimates
    people = rows[(rows["analysis"] == "A7") & (rows["stratum_kind"] == "clinician")]
    if len(people):
        said.append(f"{people['stratum'].nunique()} clinicians")
    films = rows[(rows["analysis"] == "A9") & (rows["measure"] == "reader_bias")]
    said += [
        f"{int(row['n_used'])} fillings read by {READ_BY.get(str(row['stratum']), 'readers')}"
        for _, row in films.iterrows()
    ]
    return "; ".join(one for one in said if one)


def _characteristics(run_data: RunData) -> str:
    """Say the canals by tooth type of the method with most of them; readers are left blank."""
    rows = run_data.estimates
    rows = rows[
        (rows["analysis"] == "A2") & (rows["stratum_kind"] == "tooth_type")
        & (rows["measure"] == "bias")
    ]  # fmt: skip
    if rows.empty:
        return ""
    main = rows.groupby("subject")["n_used"].sum().idxmax()
    own = rows[rows["subject"] == main]
    kinds = ", ".join(
        f"{int(row['n_used'])} {name_of(row['stratum'])}" for _, row in own.iterrows()
    )
    return f"Canals by tooth type ({name_of(str(main))}): {kinds}. Readers: {BLANK}"


def _chosen(run_data: RunData) -> str:
    counts = _counts(run_data)
    return f"Every canal on record: {counts}. Why as many: {BLANK}" if counts else ""


def _period(run_data: RunData) -> str:
    rows = run_data.select(section="agreement", analysis="A2")
    if rows.empty:
        return ""
    span = period_words(rows["period"].iloc[0])
    return f"All treatments recorded in {span}; tooth types under Conditions"


def _repeats(run_data: RunData) -> str:
    rows = run_data.select(
        section="agreement", analysis="A3", measure="repeatability_coefficient"
    )
    said = [
        f"{name_of(row['subject'])} {number(row['estimate'])} mm"
        for _, row in rows[rows["valid"]].iterrows()
    ]
    return f"Repeatability: {', '.join(said)}" if said else "No repeated readings on record"


def _tolerance(run_data: RunData) -> str:
    size = float(run_data.setting("thresholds", "tolerance_mm", default=0.5))
    wide = float(run_data.setting("thresholds", "wide_tolerance_mm", default=1.0))
    return (
        f"{number(size, 1)} mm either side, and {number(wide, 1)} mm; set before the analysis"
    )


def _range(run_data: RunData) -> str:
    points = run_data.plotted("bland_altman").dropna(subset=["x"])
    if points.empty:
        return ""
    ends = (number(points["x"].min(), 1), number(points["x"].max(), 1))
    return f"Lengths run from {' to '.join(ends)} mm"


def _slopes(run_data: RunData) -> str:
    rows = run_data.select(
        section="agreement", analysis="A5", measure="slope_on_mean", reference="confirmed"
    )
    said = [
        f"{name_of(row['subject'])} {number(row['estimate'], 3, signed=True)}"
        for _, row in rows[rows["valid"]].iterrows()
    ]
    words = f"Plots under Agreement; slope (mm per mm): {', '.join(said)}" if said else ""
    return f"{words}. Normality: {BLANK}" if words else ""


def _software(run_data: RunData) -> str:
    return f"lengthwise {run_data.run['version']}; libraries in the manifest"


def _said(words: str) -> Callable[[RunData], str]:
    return lambda run_data: words


# Beside the 15 items: what a study on routine records should add. BMC Women's Health 2013;13:3,
# doi:10.1186/1472-6874-13-3, table 1.
RECORDS = (
    Item(1, "The source of the records, and how good they are",
         _said("Exports of the practice's records; completeness and findings under Data quality")),
    Item(2, "The reference is defined",
         _said("The confirmed length: chosen by the clinician with the other methods in view, so "
               "no independent truth")),
)  # fmt: skip
GRRAS = (
    Item(1, "Title or abstract names the study as one of agreement or reliability",
         _said("Section heading and summary name agreement")),
    Item(2, "The measuring methods are named and described", _methods),
    Item(3, "The subjects are described", _period),
    Item(4, "The readers are described: role, training, experience"),
    Item(5, "What is known already, and why the study was made"),
    Item(6, "How the numbers of readers, subjects and repeats were chosen", _chosen),
    Item(7, "How subjects and readers were sampled",
         _said("Every recorded treatment of the period; nothing was sampled")),
    Item(8, "How measuring was done: time between readings, what was known, blinding"),
    Item(9, "Whether readings were made independently of one another"),
    Item(10, "The statistical analysis is described",
         _said("Estimator and interval stand beside each number and in the handbook")),
    Item(11, "The actual numbers of readers, subjects and repeats", _numbers),
    Item(12, "Characteristics of readers and subjects", _characteristics),
    Item(13, "Estimates with their uncertainty",
         _said("Every estimate has a 95% interval that allows for patients")),
    Item(14, "What the results mean in practice"),
    Item(15, "Where the detailed results are",
         _said("Result tables of this run in the audit database")),
)  # fmt: skip
BLAND_ALTMAN = (
    Item(1, "Acceptable limits, stated beforehand", _tolerance),
    Item(2, "Structure of the data: repeats, canals in teeth, teeth in patients",
         _said("Readings of canals in teeth in patients; repeats averaged by canal and method")),
    Item(3, "Repeatability, where there are repeats", _repeats),
    Item(4, "Plot looked at for normality, trend and even spread", _slopes),
    Item(5, "Whether the data were transformed",
         _said("Not transformed: differences in mm")),
    Item(6, "Bias in the plot and as a number", _said("Figures and tables under Agreement")),
    Item(7, "Precision of the bias", _said("95% interval beside each bias, by patient")),
    Item(8, "Limits of agreement in the plot and as numbers",
         _said("Figures and tables under Agreement")),
    Item(9, "Precision of the limits", _said("Bands in the figures; intervals by leaving patients out")),
    Item(10, "The range of measurements is wide enough", _range),
    Item(11, "Variance within and between subjects, or intervals that allow for it",
         _said("Total SD from components of patient, tooth and canal")),
    Item(12, "Software", _software),
    Item(13, "Assumptions on distributions",
         _said("Limits hold 95 in 100 where differences are normal; their intervals ask for no "
               "normal parts; the density beside each plot shows the shape")),
    Item(14, "Sample size and its basis", lambda run: f"{_counts(run)}. Basis: {BLANK}"),
    Item(15, "The right horizontal axis",
         _said("Mean of the two: the confirmed length is no independent truth")),
    Item(16, "Conflicts of interest"),
)  # fmt: skip


def checklist(run_data: RunData) -> str:
    """Return the lists; what a person must write stays a visible blank."""
    lists = (
        (GRRAS, "Guidelines for reporting reliability and agreement studies (GRRAS)", "grras"),
        (RECORDS, "Beside them, for a study on routine records", "records-items"),
        (BLAND_ALTMAN, "Items for a Bland-Altman analysis", "bland-altman-items"),
    )
    parts = [
        pipe_table(
            (text("Item"), text("Asks for"), text("In this report"), text("Filled by")),
            [_row(item, run_data) for item in items], caption=caption, label=label,
        )
        for items, caption, label in lists
    ]  # fmt: skip
    sources = (
        "Sources, in own words: Kottner J and others, J Clin Epidemiol 2011;64:96-106, "
        "doi:10.1016/j.jclinepi.2010.03.002; Gerke O, Diagnostics 2020;10:334, "
        "doi:10.3390/diagnostics10050334; for records BMC Women's Health 2013;13:3, "
        "doi:10.1186/1472-6874-13-3."
    )
    return "\n".join([*parts, sources]) + "\n"


def _row(item: Item, run_data: RunData) -> tuple[str, str, str, str]:
    said = item.answer(run_data) if item.answer else ""
    by = "tool" if said and BLANK not in said else "tool and person" if said else "person"
    return str(item.number), item.asks, said or BLANK, by
