"""Page one: three to five messages, their change, and what to do next."""

from lengthwise.report import escape
from lengthwise.report.run_data import RunData
from lengthwise.report.sections.common import NOT_ANALYSED
from lengthwise.report.sections.comparisons import compared_rows, comparison_table
from lengthwise.report.sections.messages import Message, messages
from lengthwise.report.sections.next_steps import next_steps
from lengthwise.report.trace import footer

CERTAIN = (
    "In brackets: the share in 100, then its 95% interval. SD: about two thirds of a method's "
    "readings lie within one SD of the true length, once its bias is set aside. Messages whose "
    "interval decides come first, then the larger ones. An asterisk marks a change whose interval "
    "lies on one side of nought."
)


def summary(run_data: RunData) -> str:
    """Return the messages, the table of their change and what to do next."""
    found = messages(run_data)
    if not found:
        return NOT_ANALYSED
    said = "\n".join(
        f"{place}. {_shown(message)}" for place, message in enumerate(found, start=1)
    )
    names = [message.compared for message in found if message.compared]
    table = comparison_table(run_data, names, label="summary")
    main = [message.result_id for message in found if message.result_id]
    traced = footer([*main, *compared_rows(run_data, names)["result_id"]], CERTAIN)
    steps = next_steps(run_data)
    return "\n\n".join(part for part in (said, table, traced, steps) if part) + "\n"


def _shown(message: Message) -> str:
    detail = f" {escape.markdown(message.detail)}" if message.detail else ""
    return f"**{escape.markdown(message.lead)}**{detail}"
