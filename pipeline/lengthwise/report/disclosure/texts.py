"""Words that may leave: counts in them rounded, names of people and cases taken out."""

import re
from collections.abc import Iterable
from typing import Any

from lengthwise.report.disclosure.profiles import Profile

# A whole number that stands alone: not part of a decimal, a code or a quarter.
WHOLE_NUMBER = re.compile(r"(?<![\w.,-])\d+(?![\w-]|[.,]\d)")
THRESHOLD = re.compile(
    r"(fewer than|more than|at least|under|below|set to|longer than|of the) $"
)
HIDDEN_TEXT = "[text left out: it holds a code of a person or a case]"
KEPT_SETTINGS = (
    "purpose", "preset", "confidence_level", "methods", "thresholds", "follow_up",
    "small_numbers", "re_audit_date", "disclosure",
)  # fmt: skip
CRITERION_FIELDS = ("id", "statement", "target", "source", "version", "valid_from")
ACTION_FIELDS = ("action", "measure", "criterion", "status", "due", "from_month")


def rounded_words(text: str, profile: Profile) -> str:
    """Return the text with every count in it rounded, or told as under the minimum.

    Thresholds such as "fewer than 10" are the program's own and stay.
    """

    def rounded(match: re.Match[str]) -> str:
        if THRESHOLD.search(text[: match.start()]):
            return match[0]
        count = int(match[0])
        if count < profile.minimum_count:
            return f"under {profile.minimum_count}"
        return str(profile.rounded(count))

    return WHOLE_NUMBER.sub(rounded, text)


def shared_settings(settings: dict[str, Any], codes: Iterable[str]) -> dict[str, Any]:
    """Return the settings that a shared document needs, and no others."""
    kept = {name: settings[name] for name in KEPT_SETTINGS if name in settings}
    pattern = _pattern(codes)
    for name, fields in (("criteria", CRITERION_FIELDS), ("actions", ACTION_FIELDS)):
        kept[name] = [
            {field: _cleaned(item[field], pattern) for field in fields if field in item}
            for item in settings.get(name) or []
        ]
    return kept


def _pattern(codes: Iterable[str]) -> re.Pattern[str] | None:
    found = sorted({code for code in codes if code}, key=len, reverse=True)
    if not found:
        return None
    alternatives = "|".join(re.escape(code) for code in found)
    return re.compile(rf"(?<!\w)(?:{alternatives})(?!\w)", re.IGNORECASE)


def _cleaned(value: Any, pattern: re.Pattern[str] | None) -> Any:
    if isinstance(value, str) and pattern is not None and pattern.search(value):
        return HIDDEN_TEXT
    return value
