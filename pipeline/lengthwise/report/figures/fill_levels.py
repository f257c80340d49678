"""Where fillings end, by quarter, clinician or tooth type, with intervals and n."""

from typing import Any

import pandas as pd

from lengthwise.report.figures.figure import Figure
from lengthwise.report.run_data import RunData
from lengthwise.report.theme import (
    BLACK,
    GREY,
    LEVEL_COLOURS,
    LEVEL_LINES,
    LEVEL_SHAPES,
    started,
)
from lengthwise.report.wording import frequency, in_hundred, name_of, sentence

LEVELS = ("short", "within", "beyond")
KIND_NAMES = {
    "quarter": "quarter",
    "month": "month",
    "canal": "canal",
    "clinician": "clinician",
    "tooth_type": "tooth type",
    "site": "site",
    "treatment_type": "treatment type",
}


def fill_levels(run_data: RunData, kind: str) -> Figure | None:
    """Return the shares short, within and beyond for each stratum of `kind`.

    None where no stratum has a share to show; strata whose share is refused are left out
    of the picture and stay, with the reason, in the table beside it.
    """
    rows = run_data.select(section="fill", measure="share", stratum_kind=kind)
    rows = rows[rows["subject"].isin(LEVELS)]
    shown = rows[rows["valid"]]
    if shown.empty:
        return None
    order = list(dict.fromkeys(shown["stratum"]))
    draw = _draw_over_time if kind == "quarter" else _draw_strata
    return Figure(
        plot=draw(shown, order, _target(shown)),
        headline=_headline(shown, order, kind),
        subtitle=_subtitle(run_data, rows, shown, kind),
        alt_text=_alternative(shown, order, kind),
        result_ids=tuple(shown["result_id"]),
        height_inch=3.0 if kind == "quarter" else 1.2 + 0.25 * len(order),
    )


def _target(rows: pd.DataFrame) -> float | None:
    targets = rows.loc[rows["subject"] == "within", "target"].dropna()
    return None if targets.empty else float(targets.iloc[0])


def _headline(rows: pd.DataFrame, order: list[str], kind: str) -> str:
    within = rows[rows["subject"] == "within"].set_index("stratum")
    if within.empty:
        return sentence(f"Fill levels are shown by {KIND_NAMES.get(kind, name_of(kind))}")
    if kind == "quarter":
        last = within.loc[[name for name in order if name in within.index][-1]]
        text = f"In {last.name}, {frequency(last, 'fillings')} ended within the preset"
        return sentence(text)
    low, high = within["estimate"].min(), within["estimate"].max()
    return sentence(
        f"By {KIND_NAMES.get(kind, name_of(kind))}, {in_hundred(low)} to {in_hundred(high)} in "
        "100 fillings ended within the preset; read the intervals before the order"
    )


def _subtitle(run_data: RunData, rows: pd.DataFrame, shown: pd.DataFrame, kind: str) -> str:
    fillings = shown.drop_duplicates("stratum")["denominator"].sum()
    left_out = rows["stratum"].nunique() - shown["stratum"].nunique()
    omitted = f"; {left_out} with too few are in the table only" if left_out else ""
    periods = sorted(shown["period"])
    first, last = periods[0].split("..")[0], periods[-1].split("..")[-1]
    target = ". Dotted: target for within" if _target(shown) is not None else ""
    return (
        f"Share of fillings by level (preset {run_data.setting('preset')}) and "
        f"{KIND_NAMES.get(kind, name_of(kind))}; {first} to {last}, n = {int(fillings)} "
        f"fillings{omitted}. Bars: 95% intervals{target}."
    )


def _alternative(rows: pd.DataFrame, order: list[str], kind: str) -> str:
    parts = []
    for level in LEVELS:
        shares = rows[rows["subject"] == level].set_index("stratum")["estimate"]
        values = ", ".join(
            f"{name} {in_hundred(shares[name])}" for name in order if name in shares
        )
        if values:
            parts.append(f"{level}: {values}")
    name = KIND_NAMES.get(kind, name_of(kind))
    return f"Points with intervals, per 100 fillings by {name}. {'. '.join(parts)}."


def _prepared(rows: pd.DataFrame, order: list[str]) -> pd.DataFrame:
    counts = rows.drop_duplicates("stratum").set_index("stratum")["denominator"]
    names = {name: f"{name_of(name)}\nn {int(counts[name])}" for name in order}
    frame = rows.assign(
        level=pd.Categorical(rows["subject"], categories=LEVELS),
        name=pd.Categorical(rows["stratum"].map(names), categories=list(names.values())),
    )
    for column in ("estimate", "lower", "upper"):
        frame[column] = 100 * frame[column]
    return frame


def _target_line(target: float | None, *, vertical: bool) -> list[Any]:
    from plotnine import aes, geom_hline, geom_vline

    if target is None:
        return []
    frame = pd.DataFrame(
        {"level": pd.Categorical(["within"], LEVELS), "target": [100 * target]}
    )
    geom, aesthetic = (geom_vline, "xintercept") if vertical else (geom_hline, "yintercept")
    return [geom(aes(**{aesthetic: "target"}), frame, linetype="dotted", color=BLACK)]


def _scales() -> list[Any]:
    from plotnine import (
        facet_wrap,
        scale_color_manual,
        scale_linetype_manual,
        scale_shape_manual,
    )

    return [
        facet_wrap("level", nrow=1),
        scale_color_manual(values=LEVEL_COLOURS),
        scale_shape_manual(values=LEVEL_SHAPES),
        scale_linetype_manual(values=LEVEL_LINES),
    ]


def _draw_over_time(rows: pd.DataFrame, order: list[str], target: float | None) -> Any:
    from plotnine import (
        aes,
        element_text,
        geom_line,
        geom_linerange,
        geom_point,
        labs,
        scale_x_discrete,
        scale_y_continuous,
        theme,
    )

    frame = _prepared(rows, order)
    shortened = {name: name.split("\n")[0] for name in frame["name"].cat.categories}
    return (
        started(frame, aes("name", "estimate", color="level", shape="level"))
        + _target_line(target, vertical=False)
        + geom_linerange(aes(ymin="lower", ymax="upper"), color=GREY)
        + geom_line(aes(group="level", linetype="level"))
        + geom_point(size=2.2)
        + scale_x_discrete(labels=shortened)
        + scale_y_continuous(limits=(0, 100), breaks=range(0, 101, 25))
        + _scales()
        + labs(x="", y="Per 100 fillings")
        + theme(axis_text_x=element_text(rotation=90))
    )


def _draw_strata(rows: pd.DataFrame, order: list[str], target: float | None) -> Any:
    from plotnine import (
        aes,
        geom_point,
        geom_segment,
        labs,
        scale_x_continuous,
        scale_y_discrete,
    )

    frame = _prepared(rows, order)
    oneline = {name: name.replace("\n", ", ") for name in frame["name"].cat.categories}
    return (
        started(frame, aes("estimate", "name", color="level", shape="level"))
        + _target_line(target, vertical=True)
        + geom_segment(aes(x="lower", xend="upper", yend="name"), color=GREY)
        + geom_point(size=2.4)
        + scale_y_discrete(limits=list(frame["name"].cat.categories)[::-1], labels=oneline)
        + scale_x_continuous(limits=(0, 100), breaks=range(0, 101, 25))
        + _scales()
        + labs(x="Per 100 fillings", y="")
    )
