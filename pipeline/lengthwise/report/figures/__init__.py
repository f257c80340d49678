"""Figures: frames of a stored run in, a `Figure` out; nothing is estimated here."""

from lengthwise.report.figures.bland_altman import bland_altman
from lengthwise.report.figures.control_chart import control_chart
from lengthwise.report.figures.dose_response import dose_response
from lengthwise.report.figures.figure import Figure, place
from lengthwise.report.figures.fill_levels import fill_levels
from lengthwise.report.figures.funnel import funnel
from lengthwise.report.figures.method_pairs import method_pairs
from lengthwise.report.figures.outcome_calibration import outcome_calibration
from lengthwise.report.figures.outcome_levels import outcome_levels
from lengthwise.report.figures.run_chart import run_chart
from lengthwise.report.figures.standardised_risks import standardised_risks
from lengthwise.report.figures.time_curves import healing_time, tooth_survival

__all__ = [
    "Figure",
    "bland_altman",
    "control_chart",
    "dose_response",
    "fill_levels",
    "funnel",
    "healing_time",
    "method_pairs",
    "outcome_calibration",
    "outcome_levels",
    "place",
    "run_chart",
    "standardised_risks",
    "tooth_survival",
]
