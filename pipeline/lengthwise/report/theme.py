"""Colours, shapes and the plot theme: print-friendly, no colour means good or bad."""

from typing import Any

BLACK = "#000000"
BLUE = "#0072B2"
VERMILLION = "#D55E00"
GREEN = "#009E73"
GREY = "#767676"
DARK_GREY = "#595959"
WHITE = "#FFFFFF"
SERIES = (BLACK, BLUE, VERMILLION, GREEN)
# Level and colour are paired only to keep pages alike; shape and line type say the same.
LEVEL_COLOURS = {
    "short": BLUE,
    "within": BLACK,
    "flush": GREEN,
    "beyond": VERMILLION,
    "not_assessable": GREY,
}
LEVEL_SHAPES = {
    "short": "s",
    "within": "o",
    "flush": "v",
    "beyond": "^",
    "not_assessable": "D",
}
LEVEL_LINES = {
    "short": "dashed",
    "within": "solid",
    "beyond": "dashdot",
    "not_assessable": "dotted",
}
GRAPHIC_CONTRAST = 3.0
TEXT_CONTRAST = 4.5


def luminance(colour: str) -> float:
    """Return the relative luminance of a #RRGGBB colour (WCAG 2.2 definition)."""
    channels = (int(colour[start : start + 2], 16) / 255 for start in (1, 3, 5))
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(first: str, second: str) -> float:
    """Return the contrast ratio of two colours, 1 to 21 (WCAG 2.2 definition)."""
    lighter, darker = sorted((luminance(first), luminance(second)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def plot_theme(base_size: float = 10) -> Any:
    """Return the plotnine theme of every figure: white ground, few lines, dark text."""
    from plotnine import element_blank, element_line, element_text, theme, theme_minimal

    return theme_minimal(base_size=base_size, base_family="DejaVu Sans") + theme(
        text=element_text(color=BLACK),
        axis_text=element_text(color=BLACK, size=base_size - 1),
        axis_line=element_line(color=BLACK, size=0.5),
        axis_ticks=element_line(color=BLACK, size=0.5),
        axis_ticks_minor=element_blank(),
        panel_grid_minor=element_blank(),
        panel_grid_major=element_line(color="#E6E6E6", size=0.4),
        strip_text=element_text(color=BLACK, weight="bold", ha="left"),
        legend_position="none",
        plot_margin=0.01,
    )


def started(frame: Any, mapping: Any) -> Any:
    """Return an empty plot of the frame in the theme, which later parts may adjust."""
    from plotnine import ggplot

    return ggplot(frame, mapping) + plot_theme()


def axis_top(values: Any) -> int:
    """Return the end of an axis per 100 that starts at 0: the next of 25, 50, 75 and 100."""
    largest = float(max((value for value in values if value == value), default=100.0))
    return next((top for top in (25, 50, 75) if largest <= top), 100)


def axis_breaks(top: int) -> list[int]:
    """Return where an axis per 100 carries numbers."""
    return list(range(0, top + 1, 5 if top == 25 else 25 if top > 50 else 10))
