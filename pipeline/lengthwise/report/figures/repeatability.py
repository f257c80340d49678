"""Scatter of repeated readings by method and by what was recorded."""

from lengthwise.report.figures.figure import Figure
from lengthwise.report.figures.panels import Panel, interval_panels
from lengthwise.report.run_data import RunData
from lengthwise.report.wording import name_of, number, sentence

SPREAD = Panel("SD of repeats (mm)", 0.0)


def repeatability_figure(run_data: RunData) -> Figure | None:
    """Return the figure of within-canal SDs, or None where none is valid."""
    rows = run_data.estimates
    rows = rows[(rows["analysis"] == "A3") & (rows["measure"] == "within_sd") & rows["valid"]]
    if rows.empty:
        return None
    names = [
        f"{name_of(row['subject'])}, {row['stratum'] or 'all'} (n {int(row['n_clusters'])})"
        for _, row in rows.iterrows()
    ]
    frame = rows.assign(name=names, panel=SPREAD.title, kind="first")
    low, high = (frame.loc[frame["estimate"].agg(which)] for which in ("idxmin", "idxmax"))
    return Figure(
        plot=interval_panels(frame, (SPREAD,), names),
        headline=sentence(
            f"Repeated readings scatter from {number(low['estimate'])} mm ({low['name']}) to "
            f"{number(high['estimate'])} mm ({high['name']})"
        ),
        subtitle=(
            "SD between repeated readings of one canal at one stage in one state; bars: 95% "
            "intervals; n: canals read again."
        ),
        alt_text="Points with bars, SD of repeats in mm: "
        + "; ".join(f"{row['name']} {number(row['estimate'])}" for _, row in frame.iterrows())
        + ".",
        result_ids=tuple(frame["result_id"]),
        height_inch=0.9 + 0.28 * len(names),
    )
