"""The figure of an ad-hoc comparison: differences against the mean, with the limits."""

from typing import Any

import numpy as np
import pandas as pd
from plotnine import aes, geom_hline, geom_point, ggplot, labs

from lengthwise.report.theme import BLUE, GREY, VERMILLION, plot_theme


def comparison_figure(
    result: dict[str, Any], method: np.ndarray, reference: np.ndarray
) -> ggplot:
    """Return the plot of `method - reference` (n,) against their mean, in the columns' unit."""
    frame = pd.DataFrame({"middle": (method + reference) / 2, "difference": method - reference})
    frame = frame.dropna()
    plot = ggplot(frame, aes("middle", "difference")) + geom_point(alpha=0.6, colour=BLUE)
    for name, kind in (("bias", "solid"), ("lower_limit", "dashed"), ("upper_limit", "dashed")):
        if result[name]["valid"]:
            plot = plot + geom_hline(
                yintercept=result[name]["estimate"], linetype=kind, colour=VERMILLION
            )
    return (
        plot
        + geom_hline(yintercept=0, colour=GREY, linetype="dotted")
        + labs(
            x="mean of the two",
            y=f"{result['method']} minus {result['reference']}",
            title="Bias (solid) and limits of agreement (dashed)",
            subtitle=f"n = {result['bias']['n_used']} pairs",
        )
        + plot_theme()
    )
