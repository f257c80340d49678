"""Loads what every report needs; workers are split off from a process that has done so."""

import matplotlib
import nbformat
import plotnine
import pypandoc
import typst

from lengthwise.report import sections
from lengthwise.report.embedded import renderer

# No screen: a worker must not look for one.
matplotlib.use("Agg")

__all__ = ["matplotlib", "nbformat", "plotnine", "pypandoc", "renderer", "sections", "typst"]
