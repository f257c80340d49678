"""The slides of the study-club deck, in the order they are shown."""

from lengthwise.report.sections.study_agreement import (
    against_confirmed,
    conditions_slide,
    matrix,
    own_error,
)
from lengthwise.report.sections.study_closing import audience_questions, changed, study_limits
from lengthwise.report.sections.study_opening import method, question, setting, study_title
from lengthwise.report.sections.study_results import chain, fill, outcome

__all__ = [
    "against_confirmed",
    "audience_questions",
    "chain",
    "changed",
    "conditions_slide",
    "fill",
    "matrix",
    "method",
    "outcome",
    "own_error",
    "question",
    "setting",
    "study_limits",
    "study_title",
]
