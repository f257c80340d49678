"""What stands out in a column of codes: a word among them, a place, plain record numbers, births.

Works on the table `scanned_values` of one column: its different values and their rows. All
thresholds are our judgement; each stands beside its reason.
"""

from datetime import date
from typing import Any

from lengthwise.ingest.identifier_patterns import (
    LEAST_VALUES,
    ROLES,
    SHARE,
    SHARED,
    SHARED_IN_KEYS,
    SITE_WORDS,
    literal,
)
from lengthwise.ingest.identifier_words import ADDRESS, BIRTH, INITIALS, NAME, RECORD

_PARTS = r"[ ._-]+"
# Codes of one making share a form, such as a letter and five digits; random ones do not.
_FEW_FORMS = 3
# A register gives out many more numbers than one audit has patients.
_SPARSE = 5
_YEARS_BACK = 20
_SPREAD_YEARS = 12


def _values(connection: Any, statement: str, **parameters: Any) -> list[str]:
    return [row[0] for row in connection.execute(statement, parameters).fetchall()]


def _is_structured(connection: Any) -> bool:
    """Return whether most values are codes with digits, of a few forms."""
    form = r"regexp_replace(regexp_replace(value, '[0-9]', '9', 'g'), '\p{L}', 'A', 'g')"
    coded, forms, different = connection.execute(
        f"select count(*) filter (regexp_matches(value, '[0-9]')), count(distinct {form}) "
        "filter (regexp_matches(value, '[0-9]')), count(*) from scanned_values"
    ).fetchall()[0]
    return bool(coded >= max(2, different / 2) and forms <= max(_FEW_FORMS, coded / 5))


def words_among_codes(connection: Any) -> tuple[str, list[str]]:
    """Return the class and the words that stand for a person among the codes of a key column."""
    words = _values(
        connection,
        r"select value from scanned_values where not regexp_matches(value, '[0-9]') "
        "and length(value) > 1 and not list_has_all($roles, "
        f"regexp_split_to_array(lower(value), {literal(_PARTS)}))",
        roles=ROLES.split(),
    )
    if not words or not _is_structured(connection):
        return "", []
    shapes = {
        NAME: f"{SHARED_IN_KEYS[NAME]}|{SHARED[NAME]}",
        INITIALS: SHARED_IN_KEYS[INITIALS],
    }
    for kind, pattern in shapes.items():
        found = _values(
            connection,
            f"select value from (select unnest($words) as value) where "
            f"regexp_matches(value, {literal(pattern)})",
            words=words,
        )
        if found:
            return kind, found
    return "", []


def places(connection: Any) -> tuple[str, list[str]]:
    """Return the class and the names of places in a column of sites."""
    lettered = (
        "select 1 from scanned_values where regexp_matches(lower(value), '[^0-9_-]{4}') limit 1"
    )
    if not _values(connection, lettered):
        return "", []
    found = _values(
        connection,
        r"select value from scanned_values where regexp_full_match(value, "
        r"'\p{L}[\p{L}''’ ._-]*[0-9]{0,3}') and regexp_matches(value, '\p{L}{4}') "
        r"and not regexp_full_match(value, '\p{L}?[0-9a-f]{8,}') "
        r"and not list_has_all($words, list_filter(regexp_split_to_array("
        r"lower(value), '[^\p{L}]+'), lambda part: length(part) > 2))",
        words=SITE_WORDS.split(),
    )
    return (ADDRESS, found) if found else ("", [])


def plain_numbers(connection: Any) -> tuple[str, list[str]]:
    """Return the class and the bare numbers of a patient column that look drawn from a register."""
    found = _values(
        connection,
        "select value from scanned_values where regexp_full_match(value, '[0-9]{4,12}')",
    )
    different = connection.execute("select count(*) from scanned_values").fetchall()[0][0]
    many = len(found) >= max(LEAST_VALUES, SHARE * different)
    numbers = [int(value) for value in found] or [0]
    sparse = many and max(numbers) - min(numbers) > _SPARSE * different
    return (RECORD, found) if sparse else ("", [])


def births(connection: Any, today: date | None = None) -> tuple[str, list[str]]:
    """Return the class and the dates of a treatment or review column that look like births.

    A practice's records span years; births span decades, and most lie long ago.
    """
    limit = (today or date.today()).year - _YEARS_BACK
    rows = connection.execute(
        "select value, cast(substr(value, 1, 4) as integer) from scanned_values where "
        r"regexp_matches(value, '^[0-9]{4}-') order by 2"
    ).fetchall()
    if len(rows) < LEAST_VALUES:
        return "", []
    years = [year for _, year in rows]
    spread = years[(3 * len(years)) // 4] - years[len(years) // 4]
    old = sum(year < limit for year in years)
    if spread < _SPREAD_YEARS and 2 * old < len(years):
        return "", []
    return BIRTH, [value for value, _ in rows]
