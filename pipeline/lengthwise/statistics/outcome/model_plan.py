"""How much of a model the number of events can carry."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

FEWEST_EVENTS = 5
EVENTS_PER_PARAMETER = 10


@dataclass(frozen=True, slots=True)
class CovariateGroup:
    """Columns that enter or leave a model together, such as the levels of tooth type."""

    name: str
    columns: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class ModelPlan:
    """What is fitted.

    Attributes
    ----------
    kept, dropped : tuple of CovariateGroup
        In the declared order; the exposure is always kept.
    events : int
        The smaller of events and non-events.
    parameters : int
        Coefficients without the intercept.
    events_per_parameter : float
    penalised : bool
        True where even the exposure alone has too few events per parameter.
    valid : bool
        False where there are too few events for any model: crude table only.
    reason : str
    """

    kept: tuple[CovariateGroup, ...]
    dropped: tuple[CovariateGroup, ...]
    events: int
    parameters: int
    events_per_parameter: float
    penalised: bool
    valid: bool
    reason: str


def plan_model(
    n_events: int,
    n_rows: int,
    exposure_columns: int,
    covariates: Sequence[CovariateGroup],
    *,
    fewest_events: int = FEWEST_EVENTS,
    events_per_parameter: int = EVENTS_PER_PARAMETER,
) -> ModelPlan:
    """Choose how many covariates to keep, in the order declared beforehand.

    Parameters
    ----------
    n_events, n_rows : int
        Events and rows; the scarcer of events and non-events counts.
    exposure_columns : int
        Columns of the exposure, which is never dropped.
    covariates : sequence of CovariateGroup
        Most important first. A group that does not fit ends the list: a later, smaller one
        does not take its place, so that the order and not the data decides.

    Notes
    -----
    The rule of ten: Peduzzi and others 1996, 10.1016/S0895-4356(96)00236-3. The rule of
    five events is a setting of this tool.
    """
    if not 0 <= n_events <= n_rows or exposure_columns < 1:
        raise ValueError("0 <= events <= rows and at least one exposure column are needed")
    scarce = min(n_events, n_rows - n_events)
    groups = tuple(covariates)
    if scarce < fewest_events:
        kind = "events" if scarce == n_events else "rows without the event"
        reason = f"{scarce} {kind}, fewer than {fewest_events}: crude table only"
        return ModelPlan((), groups, scarce, 0, 0.0, False, False, reason)
    room = scarce // events_per_parameter - exposure_columns
    kept: list[CovariateGroup] = []
    for group in groups:
        if len(group.columns) > room:
            break
        kept.append(group)
        room -= len(group.columns)
    dropped = groups[len(kept) :]
    parameters = exposure_columns + sum(len(group.columns) for group in kept)
    penalised = scarce < events_per_parameter * exposure_columns
    return ModelPlan(
        tuple(kept),
        dropped,
        scarce,
        parameters,
        scarce / parameters,
        penalised,
        True,
        _note(scarce, dropped, penalised, events_per_parameter),
    )


def counted_again(plan: ModelPlan, n_events: int, n_rows: int) -> ModelPlan:
    """Return the plan with the events of the rows that are fitted in the end."""
    scarce = min(n_events, n_rows - n_events)
    return replace(plan, events=scarce, events_per_parameter=scarce / plan.parameters)


def _note(
    scarce: int, dropped: tuple[CovariateGroup, ...], penalised: bool, wanted: int
) -> str:
    parts = []
    if dropped:
        names = ", ".join(group.name for group in dropped)
        parts.append(
            f"{scarce} events in teeth complete in all terms allow no more covariates at "
            f"{wanted} events a parameter; "
            f"left out: {names}"
        )
    if penalised:
        parts.append("few events even for the level alone: penalised fit")
    return "; ".join(parts)
