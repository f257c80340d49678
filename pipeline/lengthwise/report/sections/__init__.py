"""One module per section of a report; each function takes a run and returns Markdown."""

from lengthwise.report.sections.actions import actions
from lengthwise.report.sections.agreement import (
    agreement_figures,
    agreement_table,
    discordant_canals,
    pairs_table,
)
from lengthwise.report.sections.agreement_coefficients import (
    coefficients_section,
    readers_section,
)
from lengthwise.report.sections.agreement_conditions import conditions_section
from lengthwise.report.sections.agreement_errors import (
    month_section,
    own_error_section,
    repeatability_section,
)
from lengthwise.report.sections.checklist import checklist
from lengthwise.report.sections.comparisons import comparisons
from lengthwise.report.sections.fill import (
    fill_by,
    fill_further,
    fill_overall,
    fill_spread,
)
from lengthwise.report.sections.fill_readings import fill_readings
from lengthwise.report.sections.flow import flow
from lengthwise.report.sections.glossary import glossary
from lengthwise.report.sections.limits import limits
from lengthwise.report.sections.manifest import manifest
from lengthwise.report.sections.methods import methods
from lengthwise.report.sections.opening import opening
from lengthwise.report.sections.outcome import outcome_crude
from lengthwise.report.sections.outcome_chain import outcome_chain
from lengthwise.report.sections.outcome_follow_up import outcome_follow_up, outcome_time
from lengthwise.report.sections.outcome_model import outcome_adjusted, outcome_calibration
from lengthwise.report.sections.outcome_risks import outcome_dose, outcome_risks
from lengthwise.report.sections.outcome_split import outcome_split
from lengthwise.report.sections.process import clinicians, process_charts
from lengthwise.report.sections.process_single import single_value_charts
from lengthwise.report.sections.prompts import prompts
from lengthwise.report.sections.purpose import criteria_results, criteria_statements, purpose
from lengthwise.report.sections.quality import quality
from lengthwise.report.sections.safety import safety_lists, safety_notice
from lengthwise.report.sections.summary import summary

__all__ = [
    "actions",
    "agreement_figures",
    "agreement_table",
    "checklist",
    "clinicians",
    "coefficients_section",
    "comparisons",
    "conditions_section",
    "criteria_results",
    "criteria_statements",
    "discordant_canals",
    "fill_by",
    "fill_further",
    "fill_overall",
    "fill_readings",
    "fill_spread",
    "flow",
    "glossary",
    "limits",
    "manifest",
    "methods",
    "month_section",
    "opening",
    "outcome_adjusted",
    "outcome_calibration",
    "outcome_chain",
    "outcome_crude",
    "outcome_dose",
    "outcome_follow_up",
    "outcome_risks",
    "outcome_split",
    "outcome_time",
    "own_error_section",
    "pairs_table",
    "process_charts",
    "prompts",
    "purpose",
    "quality",
    "readers_section",
    "repeatability_section",
    "safety_lists",
    "safety_notice",
    "single_value_charts",
    "summary",
]
