"""Teeth kept and lesions healed over the months, with bands and numbers at risk."""

from typing import Any

import numpy as np
import pandas as pd

from lengthwise.report.figures.figure import Figure
from lengthwise.report.run_data import RunData
from lengthwise.report.theme import BLACK, BLUE, started
from lengthwise.report.wording import in_hundred, period_words, sentence

MONTHS_APART = 6
LINES = {"any loss": "solid", "endodontic loss": "dashed"}
COLOURS = {"any loss": BLACK, "endodontic loss": BLUE, "teeth with a lesion": BLUE}


def tooth_survival(run_data: RunData) -> Figure | None:
    """Return the curves of teeth kept, or None where the run holds none."""
    points = run_data.plotted("tooth_survival")
    if points["x"].nunique() < 2:
        return None
    lowest = 100 * float(points[["y", "lower"]].astype(float).min(axis=None))
    start = max(0, 10 * int(lowest // 10))
    last = _told(points[points["panel"] == "any loss"])
    axis = f" The axis starts at {start}." if start else ""
    return Figure(
        plot=_draw(points, (start, 100), "Teeth kept per 100"),
        headline=sentence(f"Of 100 teeth, {_share(last)} were kept to {int(last['x'])} months"),
        subtitle=_subtitle(run_data, points, "Teeth kept per 100 (solid: any loss; dashed: "
                           "endodontic loss alone), Kaplan-Meier, clustered on the patient") + axis,
        alt_text=_alternative(points, "kept"),
        result_ids=_ids(run_data, "survival_"),
        height_inch=3.2,
    )  # fmt: skip


def healing_time(run_data: RunData) -> Figure | None:
    """Return the curve of lesions healed, or None where the run holds none."""
    points = run_data.plotted("healing_time")
    if points["x"].nunique() < 2:
        return None
    last = _told(points)
    return Figure(
        plot=_draw(points, (0, 100), "Healed per 100 teeth with a lesion"),
        headline=sentence(
            f"Of 100 teeth with a lesion, {_share(last)} were healed by {int(last['x'])} months"
        ),
        subtitle=_subtitle(run_data, points, "Teeth with a lesion seen healed per 100, time of "
                           "healing known only to lie between two reviews, Turnbull's estimate"),
        alt_text=_alternative(points, "healed"),
        result_ids=_ids(run_data, "healed_by_"),
        height_inch=3.2,
    )  # fmt: skip


def _ids(run_data: RunData, start: str) -> tuple[str, ...]:
    rows = run_data.select(section="outcome", analysis="C8")
    return tuple(rows[rows["measure"].str.startswith(start)]["result_id"])


def _subtitle(run_data: RunData, points: pd.DataFrame, what: str) -> str:
    rows = run_data.select(section="outcome", analysis="C8")
    period = rows.iloc[0]["period"] if len(rows) else run_data.run["period"]
    gone = " and not seen healed before" if "healed" in what else ""
    return (
        f"{what}; {period_words(period)}, n = {int(points['n'].max())} teeth. Band: 95% "
        f"interval, month by month. Under each month: teeth still under review{gone}."
    )


def _share(row: pd.Series) -> str:
    if pd.isna(row["lower"]):
        return in_hundred(row["y"])
    ends = f"{in_hundred(row['lower'])} to {in_hundred(row['upper'])}"
    return f"{in_hundred(row['y'])} ({ends})"


def _alternative(points: pd.DataFrame, what: str) -> str:
    said = []
    for name, own in points.groupby("panel", sort=False):
        chosen = own[own["x"].isin(_breaks(own)) & (own["x"] > 0)]
        words = (
            f"by {int(row['x'])} months {_share(row)} in 100, {int(row['n'])} teeth"
            for _, row in chosen.iterrows()
        )
        said.append(f"{name}: {'; '.join(words)}")
    return f"Step curve with a band, share {what} by month. {'. '.join(said)}."


def _told(points: pd.DataFrame) -> pd.Series:
    """Return the last labelled month: the very end of a curve rests on the fewest teeth."""
    return points[points["x"] <= _breaks(points)[-1]].iloc[-1]


def _breaks(points: pd.DataFrame) -> list[int]:
    last = int(points["x"].max())
    apart = MONTHS_APART if last >= 2 * MONTHS_APART else max(1, last // 2)
    return list(range(0, last + 1, apart))


def _draw(points: pd.DataFrame, ends: tuple[int, int], label: str) -> Any:
    from plotnine import (
        aes,
        coord_cartesian,
        geom_ribbon,
        geom_step,
        labs,
        scale_color_manual,
        scale_fill_manual,
        scale_linetype_manual,
        scale_x_continuous,
    )

    frame = points.copy()
    for column in ("y", "lower", "upper"):
        frame[column] = 100 * frame[column].astype(float)
    at_risk = frame.drop_duplicates("x").set_index("x")["n"]
    breaks = _breaks(frame)
    names = [f"{month}\n{int(at_risk.get(month, 0))}" for month in breaks]
    panels = list(dict.fromkeys(frame["panel"]))
    return (
        started(frame, aes("x", "y", linetype="panel", color="panel", fill="panel"))
        + geom_ribbon(_stepped(frame), aes(ymin="lower", ymax="upper"), alpha=0.15, color=None)
        + geom_step(size=0.9)
        + scale_color_manual(values=COLOURS, limits=panels)
        + scale_fill_manual(values=COLOURS, limits=panels)
        + scale_linetype_manual(
            values={p: LINES.get(p, "solid") for p in panels}, limits=panels
        )
        + scale_x_continuous(breaks=breaks, labels=names)
        + coord_cartesian(ylim=ends)
        + labs(x="Months from treatment, and teeth still under review", y=label)
    )


def _stepped(frame: pd.DataFrame) -> pd.DataFrame:
    """Return the band as steps: each value holds until the next month."""
    parts = []
    for _, own in frame.groupby("panel", sort=False):
        doubled = own.loc[own.index.repeat(2)].reset_index(drop=True)
        doubled["x"] = np.append(doubled["x"].to_numpy()[1:], doubled["x"].to_numpy()[-1])
        parts.append(doubled)
    return pd.concat(parts, ignore_index=True).dropna(subset=["lower", "upper"])
