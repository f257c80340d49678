"""Proposes what each column of a practice's own sheet is, with a confidence and a reason.

A proposal is `certain` only where the header is a known word of the trade and every value that
was looked at fits the field. Everything else is `likely` or a `question`.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from dataclasses import field as dataclass_field

from lengthwise.dictionary import EXPORTS, Field, schema
from lengthwise.ingest.identifier_words import FREE_TEXT, header_class, header_words
from lengthwise.ingest.trade_words import (
    CANAL_WORDS,
    EXPORT_OF,
    FIELD_WORDS,
    FILLERS,
    METHOD_WORDS,
)

CERTAIN, LIKELY, QUESTION, REFUSED = "certain", "likely", "question", "refused"
_ALIKE, _SOMEWHAT_ALIKE = 88, 75  # of 100, by the library's weighted ratio; our judgement
# Headers this short are alike by chance.
_SHORTEST_FUZZY = 5
# Words that different practices use for different things: never certain.
_AMBIGUOUS = frozenset(
    {"date", "datum", "data", "fecha", "al", "lt", "wf", "fill", "obturation", "length", "lange",
     "reading", "mm", "recall", "treatment", "days", "ref", "reference", "can", "th", "niveau",
     "longueur", "longitud", "element", "practice", "kind", "event", "symptoms", "root", "op",
     "film", "pa", "rx", "overfill", "overfilled", "pai", "mes", "rd", "lesion size"}
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Proposal:
    """What one column seems to be; `field` is '' where that is open."""

    header: str
    field: str
    constants: dict[str, str] = dataclass_field(default_factory=dict)
    confidence: int = 0
    status: str = QUESTION
    reason: str = ""

    @property
    def export(self) -> str:
        """Return the export that the field belongs to."""
        return EXPORT_OF.get(self.field, "treatments")


def _dictionary_field(name: str, export: str) -> Field | None:
    fields = {item.name: item for item in schema(export).fields}
    return fields.get(name) or (
        next(
            (item for other in EXPORTS for item in schema(other).fields if item.name == name),
            None,
        )
    )


def _phrase(words: Sequence[str]) -> str:
    return " ".join(words)


def _taken(words: list[str], groups: dict[str, tuple[str, ...]]) -> str:
    """Remove the longest known phrase of a group from the words; return its value, or ''."""
    text = f" {_phrase(words)} "
    found = [
        (len(phrase), value, phrase)
        for value, phrases in groups.items()
        for phrase in phrases
        if f" {phrase} " in text
    ]
    if not found:
        return ""
    _, value, phrase = max(found)
    words[:] = text.replace(f" {phrase} ", " ", 1).split()
    return value


def _fits(values: Sequence[str], item: Field | None) -> bool:
    """Return whether every value fits the type and limits of a field, as far as that is fixed."""
    given = [value.strip() for value in values if value.strip()]
    if item is None or not given or item.type in ("boolean", "date") or item.enum:
        return bool(given)  # words are recoded, and dates have their order, after a question
    if item.type in ("number", "integer"):
        texts = [value.replace(",", ".") for value in given]
        if not all(re.fullmatch(r"[+-]?\d+(\.\d+)?", text) for text in texts):
            return False
        low = item.minimum if item.minimum is not None else float("-inf")
        high = item.maximum if item.maximum is not None else float("inf")
        return all(low <= float(text) <= high for text in texts)
    return all(re.fullmatch(item.pattern, value) for value in given) if item.pattern else True


def _closest(phrase: str) -> tuple[str, int, str]:
    """Return (field, likeness, word) of the most alike word of the trade."""
    from rapidfuzz import fuzz, process

    words = {
        word: name for name, words in FIELD_WORDS.items() for word in words if len(word) > 3
    }
    found = process.extractOne(phrase, words.keys(), scorer=fuzz.ratio)
    return (words[found[0]], round(found[1]), found[0]) if found else ("", 0, "")


def _exact(phrase: str) -> str:
    return next((name for name, words in FIELD_WORDS.items() if phrase in words), "")


def _measured(header: str, words: list[str], values: Sequence[str]) -> Proposal | None:
    """Return the proposal of a column that is one canal or one method of a wide sheet."""
    rest = list(words)
    canal = _taken(rest, CANAL_WORDS)
    whole = _exact(_phrase(rest))
    method = "" if whole else _taken(rest, METHOD_WORDS)
    rest = [word for word in rest if word not in FILLERS]
    name = whole or _exact(_phrase(rest)) or ("length_mm" if method and not rest else "")
    per_canal = EXPORT_OF.get(name) in ("readings", "canals", "fills")
    if not per_canal or not (canal or method):
        return None
    constants = {key: value for key, value in (("canal", canal), ("method", method)) if value}
    said = " and ".join(f"{key} {value}" for key, value in constants.items())
    fits = _fits(values, _dictionary_field(name, EXPORT_OF[name]))
    # "film" may be the estimate before treatment or the film with a file: ask.
    # A filling level named with its canal and in numbers leaves nothing to ask but its sign.
    ambiguous = _phrase(rest) in _AMBIGUOUS - ({"fill", "obturation", "wf"} if canal else set())
    clear = fits and method != "film" and not ambiguous and name != "method"
    return Proposal(
        header, name, constants, 95 if clear else 60, CERTAIN if clear else QUESTION,
        f"the header names {said}" + ("" if fits else "; its values do not fit"),
    )  # fmt: skip


def propose(header: str, values: Sequence[str]) -> Proposal:
    """Return what a column seems to be.

    Parameters
    ----------
    header : str
        The header as written.
    values : sequence of str
        Values of the column, as many as are to be looked at.
    """
    words = list(header_words(header))
    phrase = _phrase(words)
    name = header.lower() if _dictionary_field(header.lower(), "readings") else ""
    kind = "" if name else header_class(header)
    if kind and not _exact(phrase):
        remedy = (
            "leave it out with a reason" if kind == FREE_TEXT else "remove it from the file"
        )
        return Proposal(header, "", {}, 100, REFUSED, f"the header announces {kind}: {remedy}")
    exact = (
        name
        or _exact(phrase)
        or _exact(_phrase([word for word in words if word not in FILLERS]))
    )
    if not exact and (found := _measured(header, words, values)):
        return found
    if exact:
        fits = _fits(values, _dictionary_field(exact, EXPORT_OF.get(exact, "treatments")))
        clear = fits and (bool(name) or phrase not in _AMBIGUOUS)
        reason = "a known word of the trade" if not name else "the name of the field"
        if not fits:
            reason += "; its values do not fit the field, or there are none"
        elif not clear:
            reason += ", used for more than one thing"
        return Proposal(
            header, exact, {}, 95 if clear else 60, CERTAIN if clear else QUESTION, reason
        )
    likely, likeness, word = _closest(phrase)
    if len(phrase) < _SHORTEST_FUZZY or likeness < _SOMEWHAT_ALIKE:
        return Proposal(header, "", {}, 0, QUESTION, "no word of the trade is alike")
    fits = _fits(values, _dictionary_field(likely, EXPORT_OF.get(likely, "treatments")))
    status = LIKELY if likeness >= _ALIKE and fits else QUESTION
    return Proposal(header, likely, {}, likeness - 10, status, f'written much like "{word}"')
