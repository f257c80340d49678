"""The figure of an ad-hoc comparison: differences against the mean, with the limits."""

from typing import Any

import numpy as np
import pandas as pd
from plotnine import (
    aes,
    annotate,
    geom_hline,
    geom_point,
    ggplot,
    labs,
    scale_x_continuous,
)

from lengthwise.report.theme import BLACK, BLUE, GREY, plot_theme

LINES = {"bias": "solid", "lower_limit": "dashed", "upper_limit": "dashed"}
WORDS = {"bias": "bias", "lower_limit": "lower limit", "upper_limit": "upper limit"}


def comparison_figure(
    result: dict[str, Any], method: np.ndarray, reference: np.ndarray,
    tolerance: float | None = None,
) -> ggplot:  # fmt: skip
    """Return the plot of `method - reference` (n,) against their mean, in the columns' unit.

    Lines that were refused are left out; their intervals are bands, the tolerance is dotted.
    """
    frame = pd.DataFrame({"middle": (method + reference) / 2, "difference": method - reference})
    frame = frame.dropna()
    plot = ggplot(frame, aes("middle", "difference"))
    right = float(frame["middle"].max()) if len(frame) else 1.0
    width = float(np.ptp(frame["middle"])) if len(frame) else 1.0
    for name, kind in LINES.items():
        plot = plot + _line(result[name], WORDS[name], kind, right)
    dotted = [0.0] if tolerance is None else [-tolerance, 0.0, tolerance]
    limits = (None, right + 0.18 * max(width, 1e-9))
    given = [WORDS[name] for name in LINES if result[name]["valid"]]
    return (
        plot
        + geom_hline(yintercept=dotted, colour=GREY, linetype="dotted")
        + geom_point(shape="o", fill="none", colour=BLACK, alpha=0.5, size=1.6)
        + scale_x_continuous(limits=limits)
        + labs(
            x="mean of the two",
            y=f"{result['method']} minus {result['reference']}",
            title=f"Lines: {', '.join(given)}" if given else "Too few pairs for limits",
            subtitle=f"n = {result['bias']['n_used']}; bands: 95% intervals",
        )
        + plot_theme()
    )


def _line(item: dict[str, Any], words: str, kind: str, right: float) -> list[Any]:
    """Return the line, its band and its words, or nothing for a refused number."""
    if not item["valid"]:
        return []
    said = f" {words}\n {item['estimate']:.2f}"
    band = annotate(
        "rect", xmin=-np.inf, xmax=np.inf, ymin=item["lower"], ymax=item["upper"], fill=BLUE,
        alpha=0.2,
    )  # fmt: skip
    return [
        band,
        geom_hline(yintercept=item["estimate"], linetype=kind, colour=BLUE),
        annotate("text", x=right, y=item["estimate"], label=said, ha="left", size=8),
    ]
