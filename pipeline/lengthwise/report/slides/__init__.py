"""The look of rendered slides, whichever engine made them."""

from lengthwise.report.slides.finish import finish_slides

__all__ = ["finish_slides"]
