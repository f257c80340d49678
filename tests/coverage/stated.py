"""Where a figure outside 93 to 97 in 100 is told of, if not by the result itself.

Every method and quantity with such a figure is in this list, or its results say so in their
own words in the very cells; `test_stated.py` asks for it. The handbook prints the sentences.
"""

from dataclasses import dataclass

from lengthwise.report import held
from lengthwise.report.held import Held
from lengthwise.report.sections.actions import CAUTION as OF_CHANGES
from lengthwise.report.sections.outcome_context import HELD as OF_ADJUSTED
from lengthwise.report.sections.process import PEERS as OF_CLINICIANS
from lengthwise.report.sections.purpose import HELD as OF_SHARES

from .table import Row

ALL = ("*",)
# A cell has practices with few events and others; the words stand where there are few.
MOST_TRIALS = 0.5


@dataclass(frozen=True, slots=True)
class Stated:
    """Methods and quantities of a study ("*" for all), and where their limit is told.

    `held` is what the report prints beside the numbers, held against the table; `printed` is
    another sentence of a report; where both are empty no report gives the interval. `why`
    is the sentence of the handbook.
    """

    study: str
    why: str
    methods: tuple[str, ...] = ALL
    quantities: tuple[str, ...] = ALL
    held: Held | None = None
    printed: str = ""

    def covers(self, method: str, quantity: str) -> bool:
        """Return whether a method and quantity of its study belong to this entry."""
        pairs = ((self.methods, method), (self.quantities, quantity))
        return all(names == ALL or one in names for names, one in pairs)


BESIDE = "Said beside the table in the report."
COMPARED = "No report gives this interval; it is tried to show why another one is given."
STATED: tuple[Stated, ...] = (
    Stated("agreement_mover", "Offered on request only; the result says it of SD and limits."),
    Stated("agreement_bootstrap", "Offered on request only; the result says it of SD and limits."),
    Stated("agreement_repeats", BESIDE, held=held.REPEATS),
    Stated(
        "agreement_own_error", BESIDE, quantities=(
            "own SD, most precise", "own SD, least precise", "relative bias"
        ), held=held.OWN_ERRORS,
    ),
    Stated(
        "agreement_own_error", "A place is a whole number: its interval is rounded outwards and "
        "holds nearly always.", quantities=("place, most precise", "place, least precise"),
    ),
    Stated("agreement_lines", BESIDE, held=held.LINES),
    Stated(
        "agreement_within", "Said beside the shares of criteria, of which it is the same interval.",
        quantities=("share within 0.5 mm",), printed=OF_SHARES,
    ),
    Stated(
        "agreement_within", BESIDE, quantities=("paired difference",), held=held.PAIRED_SHARES
    ),
    Stated("agreement_conditions", BESIDE, held=held.CONDITIONS),
    Stated("agreement_coefficients", BESIDE, held=held.COEFFICIENTS),
    Stated("agreement_readers", BESIDE, held=held.READERS_HELD),
    Stated("agreement_reader_offsets", BESIDE, held=held.READERS_HELD),
    Stated("process_share", BESIDE, printed=OF_SHARES),
    Stated("process_change", BESIDE, printed=OF_CHANGES),
    Stated("process_observed_expected", BESIDE, printed=OF_CLINICIANS),
    Stated("process_shrunken", BESIDE, printed=OF_CLINICIANS),
    Stated("outcome_adjusted", COMPARED, methods=(
        "equations, robust", "equations, Mancl-DeRouen", "equations, Kauermann-Carroll",
        "penalised, profile",
    )),
    Stated(
        "outcome_adjusted", BESIDE, methods=("as in the report",),
        printed=OF_ADJUSTED,
    ),
    Stated("outcome_standardised", BESIDE, printed=OF_ADJUSTED),
    Stated("outcome_dose", BESIDE, held=held.DOSE),
    Stated("outcome_crude", COMPARED, methods=(
        "Wilson, teeth as independent", "weighted, Wald", "unweighted, Wald", "unweighted",
        "Kaplan-Meier, Greenwood",
    )),
    Stated(
        "outcome_crude", BESIDE, methods=("weighted", "Wilson, design effect"),
        quantities=("difference, beyond", "share reviewed"), held=held.FOLLOW_UP,
    ),
    Stated(
        "outcome_crude", BESIDE, methods=("Wilson, design effect", "Newcombe"), held=held.CRUDE
    ),
    Stated("outcome_crude", "Said by results with fewer than 10 events.", methods=("Woolf", "Katz")),
    Stated("outcome_index", BESIDE, held=held.INDEX),
    Stated("outcome_review", BESIDE, held=held.REVIEW),
    Stated("outcome_healing", BESIDE, held=held.HEALING),
    Stated("outcome_yearly", BESIDE, held=held.YEARLY),
)  # fmt: skip


def stated(study: str, method: str, quantity: str) -> Stated | None:
    """Return the entry of a method and quantity, if there is one."""
    found = (one for one in STATED if one.study == study and one.covers(method, quantity))
    return next(found, None)


def is_told_by_results(rows: list[Row]) -> bool:
    """Return whether most trials of every cell outside 93 to 97 said so in their results."""
    outside = [row for row in rows if row["within_93_97"] == "no"]
    return all(float(row["limit_stated_share"]) >= MOST_TRIALS for row in outside)


def told_of(study: str, method: str, quantity: str, rows: list[Row]) -> str:
    """Return where a limit is told: by results, by the report, or in the handbook alone."""
    own = [row for row in rows if (row["method"], row["quantity"]) == (method, quantity)]
    if not any(row["within_93_97"] == "no" for row in own):
        return ""
    if is_told_by_results(own):
        return "Said by the result itself in those cells."
    entry = stated(study, method, quantity)
    return entry.why if entry else ""
