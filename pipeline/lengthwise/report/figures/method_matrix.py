"""Every pair of methods in one square: bias below the diagonal, limits above it, n in both."""

from typing import Any

import pandas as pd

from lengthwise.report.figures.figure import Figure, spoken
from lengthwise.report.run_data import RunData
from lengthwise.report.theme import BLACK, WHITE, started
from lengthwise.report.wording import name_of, number, period_words, sentence

MEASURES = ("bias", "lower_limit", "upper_limit")


def method_matrix(run_data: RunData) -> Figure | None:
    """Return the matrix of all pairs with valid limits, or None where there are none."""
    pairs = _pairs(run_data)
    if len(pairs) < 2:
        return None
    order = list(dict.fromkeys([*pairs["subject"], *pairs["reference"]]))
    cells = pd.DataFrame([cell for _, pair in pairs.iterrows() for cell in _cells(pair, order)])
    wide = pairs.assign(width=pairs["upper_limit"] - pairs["lower_limit"])
    narrow = wide.loc[wide["width"].idxmin()]
    limits = f"{_signed(narrow['lower_limit'])} to {_signed(narrow['upper_limit'])} mm"
    names = f"{name_of(narrow['subject'])} minus {name_of(narrow['reference'])}"
    return Figure(
        plot=_draw(cells, [name_of(code) for code in order]),
        headline=sentence(f"The narrowest limits of any pair are those of {names}: {limits}"),
        subtitle=(
            "Row minus column, in mm; canals, "
            f"{period_words(pairs['period'].iloc[0])}. Below the diagonal: bias and n; above: 95% "
            "limits of agreement and n. The darker a cell, the larger the bias or the wider "
            "the limits; an empty cell had too few canals."
        ),
        alt_text=(
            f"Square of {len(order)} methods with {len(pairs)} pairs. "
            f"{spoken([_spoken(pair) for _, pair in pairs.iterrows()])}."
        ),
        result_ids=tuple(pairs["result_id"]),
        height_inch=1.6 + 0.58 * len(order),
    )


def _signed(value: float) -> str:
    return number(value, signed=True)


def _pairs(run_data: RunData) -> pd.DataFrame:
    rows = run_data.select(section="agreement", analysis="A2")
    rows = rows[rows["measure"].isin(MEASURES) & rows["valid"]]
    if set(rows["measure"]) != set(MEASURES):
        return pd.DataFrame()
    keys = ["subject", "reference"]
    wide = rows.pivot_table(index=keys, columns="measure", values="estimate", aggfunc="first")
    first = rows[rows["measure"] == "bias"][[*keys, "n_used", "period", "result_id"]]
    # Sorting by position keeps the order of the methods as the dictionary has it.
    return first.merge(wide.dropna().reset_index(), on=keys)


def _cells(pair: pd.Series, order: list[str]) -> list[dict[str, Any]]:
    first, second = order.index(pair["subject"]), order.index(pair["reference"])
    lower, upper, bias = pair["lower_limit"], pair["upper_limit"], pair["bias"]
    above, below = (first, second), (second, first)
    if first > second:
        above, below, lower, upper, bias = below, above, -upper, -lower, -bias
    n = f"n {int(pair['n_used'])}"
    width = pair["upper_limit"] - pair["lower_limit"]
    return [
        {
            "row": name_of(order[above[0]]), "column": name_of(order[above[1]]),
            "text": f"{_signed(lower)} to\n{_signed(upper)}\n{n}", "weight": width / 4,
        },
        {
            "row": name_of(order[below[0]]), "column": name_of(order[below[1]]),
            "text": f"{_signed(-bias)}\n{n}", "weight": abs(bias),
        },
    ]  # fmt: skip


def _spoken(pair: pd.Series) -> str:
    return (
        f"{name_of(pair['subject'])} minus {name_of(pair['reference'])}: bias "
        f"{_signed(pair['bias'])}, limits {_signed(pair['lower_limit'])} to "
        f"{_signed(pair['upper_limit'])}, n {int(pair['n_used'])}"
    )


def _draw(cells: pd.DataFrame, names: list[str]) -> Any:
    from plotnine import (
        aes,
        coord_cartesian,
        element_blank,
        element_text,
        geom_text,
        geom_tile,
        labs,
        scale_fill_gradient,
        scale_x_discrete,
        scale_y_discrete,
        theme,
    )

    broken = [name.replace(" ", "\n", 1) for name in names]
    look = dict(zip(names, broken, strict=True))
    frame = cells.assign(
        column=pd.Categorical(cells["column"].map(look), categories=broken),
        row=pd.Categorical(cells["row"].map(look), categories=broken[::-1]),
    )
    return (
        started(frame, aes("column", "row"))
        + geom_tile(aes(fill="weight"), color=WHITE, size=1)
        + geom_text(aes(label="text"), size=6.8, color=BLACK)
        # Pale enough that black text keeps its contrast in the darkest cell.
        + scale_fill_gradient(low="#F7F9FB", high="#A9CDE6")
        + scale_x_discrete(drop=False)
        + scale_y_discrete(drop=False)
        + coord_cartesian()
        + labs(x="", y="")
        + theme(
            panel_grid_major=element_blank(),
            axis_line=element_blank(),
            axis_ticks=element_blank(),
            axis_text=element_text(size=8),
        )
    )
