"""Proposes what each column of a practice's own sheet is, with a confidence and a reason.

A proposal is `certain` only where the header is a known word of the trade and every value that
was looked at fits the field. Everything else is `likely` or a `question`.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from dataclasses import field as dataclass_field

from lengthwise.dictionary import EXPORTS, Field, schema
from lengthwise.ingest.identifier_words import FREE_TEXT, header_class, header_words
from lengthwise.ingest.recodes import Recodes, is_choice, recodes_of
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
_FROM_CONFIRMED = re.compile(
    r"(?:fill|filling|gp|obturation|wf|rf|cone)(?: [a-z]+)* (?:wl|cwl|al|lt|working length)"
)
_LENGTHS = ("length_mm", "confirmed_length_mm")
_FACTORS = {"cm": 10, "tenth_mm": 0.1}


@dataclass(frozen=True, slots=True)
class Proposal:
    """What one column seems to be; `field` is '' where that is open.

    `unit` is the unit in which its lengths would fit, where that is not mm; `from_confirmed`
    says that a filling level seems to be counted from the confirmed length.
    """

    header: str
    field: str
    constants: dict[str, str] = dataclass_field(default_factory=dict)
    confidence: int = 0
    status: str = QUESTION
    reason: str = ""
    recodes: Recodes | None = None
    unit: str = ""
    from_confirmed: bool = False

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
    if item is None or not given or item.type == "date" or item.name == "tooth":
        return bool(given)  # dates have their order, and teeth their notation, after a question
    if is_choice(item):
        return recodes_of(item, given, EXPORT_OF.get(item.name, "treatments")) is not None
    if item.type in ("number", "integer"):
        return _within(_numbers(given), item, 1)
    return all(re.fullmatch(item.pattern, value) for value in given) if item.pattern else True


def _numbers(given: Sequence[str]) -> list[float]:
    """Return the values as numbers, or nothing where one of them is none."""
    texts = [value.strip().replace(",", ".") for value in given if value.strip()]
    if not all(re.fullmatch(r"[+-]?\d+(\.\d+)?", text) for text in texts):
        return []
    return [float(text) for text in texts]


def _within(numbers: Sequence[float], item: Field, factor: float) -> bool:
    low = item.minimum if item.minimum is not None else float("-inf")
    high = item.maximum if item.maximum is not None else float("inf")
    return bool(numbers) and all(low <= number * factor <= high for number in numbers)


def _unit(values: Sequence[str], item: Field | None) -> str:
    """Return the unit in which lengths that do not fit in mm would all fit, or ''."""
    if item is None or item.name not in _LENGTHS:
        return ""
    numbers = _numbers(values)
    fitting = [name for name, factor in _FACTORS.items() if _within(numbers, item, factor)]
    return fitting[0] if fitting else ""


def _settled(proposal: Proposal, values: Sequence[str]) -> Proposal:
    """Return a proposal with what its values say: words to recode, another unit."""
    item = _dictionary_field(proposal.field, EXPORT_OF.get(proposal.field, "treatments"))
    if item is None or proposal.status == REFUSED:
        return proposal
    if item.name == "fill_offset_mm" and not _numbers(values):
        level = schema("fills").field("fill_level")
        words = recodes_of(level, values, "fills")
        known = (
            words is not None
            and sum(one.status != QUESTION for one in words.items) >= len(words.items) / 2
        )
        if words is not None and known and any(value.strip() for value in values):
            return replace(
                proposal, field="fill_level", recodes=words, status=LIKELY, confidence=80,
                reason="a word for the filling level, whose values are words and no mm",
            )  # fmt: skip
    if is_choice(item) and item.name != "tooth":
        return replace(proposal, recodes=recodes_of(item, values, proposal.export))
    unit = _unit(values, item)
    if unit and proposal.field and not _fits(values, item):
        return replace(
            proposal, unit=unit, status=LIKELY, confidence=80,
            reason=f"{proposal.reason.partition(';')[0]}; its values are lengths in {unit}",
        )  # fmt: skip
    return proposal


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
    """Return what a column seems to be, with the words of it that are to be recoded.

    Parameters
    ----------
    header : str
        The header as written.
    values : sequence of str
        Values of the column, as many as are to be looked at.
    """
    return _settled(_named(header, values), values)


def _named(header: str, values: Sequence[str]) -> Proposal:
    words = list(header_words(header))
    phrase = _phrase(words)
    if _FROM_CONFIRMED.fullmatch(phrase):
        return Proposal(
            header, "fill_offset_mm", {}, 60, QUESTION,
            "the level seems to be counted from the confirmed length", from_confirmed=True,
        )  # fmt: skip
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
