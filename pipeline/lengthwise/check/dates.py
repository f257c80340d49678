"""Says what is kept of the dates of a file: a month, a quarter or a number of days, never a day."""

from typing import Any

from lengthwise.ingest.source import SourceFile

# The strictest published rule lets no element of a date stand but the year: 45 CFR
# 164.514(b)(2)(i)(C), the United States' safe harbour for de-identification.
FINER_THAN_A_YEAR = (
    "A month or a quarter, and a number of days, is finer than the year, which is all that the "
    "strictest published rule lets stand (45 CFR 164.514(b)(2)): keep the audit folder inside "
    "the practice"
)


def date_regime(connection: Any, number: int, source: SourceFile) -> str:
    """Return in words what is kept of one judged file's dates, or '' where it has none.

    Reads `loading_<export>`, the rows that will be stored.
    """
    if source.export == "treatments":
        return _periods(connection, number, "treatment_date" in source.columns)
    if source.export == "follow_ups" and "review_date" in source.columns:
        return "review_date became days from treatment and is dropped"
    if source.export in ("follow_ups", "incidents"):
        return "days from treatment, as given"
    return ""


def _periods(connection: Any, number: int, dated: bool) -> str:
    row = connection.execute(
        "select count(*) filter (where contains(period, 'Q')), "
        "count(*) filter (where not contains(period, 'Q')) "
        "from loading_treatments where file_number = $number",
        {"number": number},
    ).fetchone()
    kinds = [kind for kind, count in zip(("quarter", "month"), row, strict=True) if count]
    kept = " or ".join(kinds) or "month"
    if dated:
        return f"treatment_date became the {kept} of treatment and is dropped"
    return f"{kept} of treatment, as given"


def days_from_dates(
    connection: Any, numbers: dict[str, list[int]], sources: list[SourceFile]
) -> None:
    """Turn review dates into days from treatment, where both dates came with this load."""
    for number in numbers["follow_ups"]:
        if "review_date" not in sources[number - 1].columns:
            continue
        connection.execute(
            f"update checked_follow_ups_{number} as review set days_from_treatment = coalesce("
            "days_from_treatment, date_diff('day', treatment.treatment_date, review_date)) "
            "from checked_treatments as treatment "
            "where review.treatment_id = treatment.treatment_id"
        )
