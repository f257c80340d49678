"""Proposes how the words in a column become the values that the dictionary allows.

A recode is certain where a word means one thing only, likely where practices mostly mean it so,
and a question where it may mean more than one. Words are common practice, no source.
"""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from lengthwise.dictionary import Field, schema
from lengthwise.ingest.identifier_words import header_words
from lengthwise.ingest.trade_words import CANAL_WORDS, METHOD_WORDS

CERTAIN, LIKELY, QUESTION = "certain", "likely", "question"
# A column with more different words than this is no list of choices.
MOST_WORDS = 15
_LONGEST_WORD = 30

YES_NO: dict[str, str] = {
    "yes": "yes y ja j oui o si sim true t wahr vrai verdadero vero ok x + 1",
    "no": "no n nein non nao nee false f falsch faux falso 0",
}
_LIKELY_YES_NO = frozenset({"x", "+", "1", "0", "ok", "t", "f", "o"})
LEVELS: dict[str, tuple[str, ...]] = {
    "short": (
        "short", "underfilled", "underfill", "under", "too short", "kurz", "zu kurz", "court",
        "trop court", "corto", "corta", "curto", "kort", "te kort",
    ),
    "within": (
        "within", "adequate", "acceptable", "optimal", "correct", "good", "ok", "gut", "korrekt",
        "optimaal", "goed", "bon", "bien", "correcto", "adecuado", "corretto", "adequado",
    ),
    "flush": ("flush", "at apex", "bundig", "randbundig", "a ras", "al ras", "apex"),
    "beyond": (
        "beyond", "over", "overfilled", "overfill", "overextended", "overextension", "long",
        "too long", "lang", "zu lang", "uberstopft", "uberfullt", "depassement", "trop long",
        "largo", "sobreextendido", "sobreobturacion", "lungo", "te lang", "puff",
    ),
}  # fmt: skip
_LIKELY_LEVELS = frozenset({"good", "ok", "gut", "bon", "bien", "goed", "apex", "over", "long",
                            "lang", "largo", "lungo", "puff", "under"})  # fmt: skip


@dataclass(frozen=True, slots=True)
class Recode:
    """What is to become of one word of a column; `to` holds the choices where it is a question."""

    word: str
    to: tuple[str, ...]
    status: str


@dataclass(frozen=True, slots=True)
class Recodes:
    """All words of one column that are not yet the dictionary's."""

    field: str
    items: tuple[Recode, ...]

    @property
    def is_open(self) -> bool:
        """Return whether any word is a question."""
        return any(item.status == QUESTION for item in self.items)


def plain_word(value: str) -> str:
    """Return a word in lower case, without accents and signs."""
    return " ".join(header_words(value)) or value.strip().lower()


def _yes_no(word: str) -> tuple[tuple[str, ...], str]:
    for value, words in YES_NO.items():
        if word in words.split():
            return (value,), LIKELY if word in _LIKELY_YES_NO else CERTAIN
    return ("yes", "no"), QUESTION


def _level(word: str) -> tuple[tuple[str, ...], str]:
    for value, words in LEVELS.items():
        if word in words:
            return (value,), LIKELY if word in _LIKELY_LEVELS else CERTAIN
    return tuple(LEVELS), QUESTION


def _method(word: str) -> tuple[tuple[str, ...], str]:
    found = [value for value, words in METHOD_WORDS.items() if word in words]
    if not found:
        return tuple(METHOD_WORDS), QUESTION
    # A film may be the one before treatment, or the one with a file in the canal.
    return (
        (("film", "film_file"), QUESTION) if found == ["film"] else (tuple(found[:1]), CERTAIN)
    )


def _canal(word: str) -> tuple[tuple[str, ...], str]:
    found = [value for value, words in CANAL_WORDS.items() if word in words]
    return (tuple(found[:1]), CERTAIN) if found else (tuple(CANAL_WORDS), QUESTION)


def _choice(word: str, item: Field) -> tuple[tuple[str, ...], str]:
    """Match a word to an allowed value or its label, whatever its case, blanks and signs."""
    for value in item.enum:
        if word in (plain_word(value), plain_word(item.labels.get(value, value))):
            return (value,), CERTAIN
    starts = [
        value for value in item.enum if len(word) > 2 and plain_word(value).startswith(word)
    ]
    return (tuple(starts), LIKELY) if len(starts) == 1 else (item.enum, QUESTION)


_OWN = {"method": _method, "canal": _canal, "fill_level": _level}


def is_choice(item: Field | None) -> bool:
    """Return whether a field takes words of a list."""
    return item is not None and (item.type == "boolean" or bool(item.enum))


def words_of(values: Sequence[str], export: str) -> list[str]:
    """Return the different words of a column, the most frequent first, without missing codes."""
    missing = schema(export).missing
    counts = Counter(value.strip() for value in values if value.strip() not in missing)
    return [word for word, _ in counts.most_common()]


def recodes_of(item: Field, values: Sequence[str], export: str) -> Recodes | None:
    """Return how the words of a column are recoded, or None where it is no list of choices.

    Parameters
    ----------
    item : Field
        The field that the column is taken for; it takes words of a list.
    values : sequence of str
        All values of the column that were looked at.
    """
    words = words_of(values, export)
    allowed = {"yes", "no"} if item.type == "boolean" else set(item.enum)
    odd = [word for word in words if word not in allowed]
    if len(words) > MOST_WORDS or any(len(word) > _LONGEST_WORD for word in odd):
        return None
    if any(re.fullmatch(r"[+-]?\d+[.,]\d+", word) for word in odd):
        return None
    found = []
    for word in odd:
        plain = plain_word(word)
        if item.type == "boolean":
            to, status = _yes_no(plain)
        else:
            to, status = _OWN.get(item.name, lambda text: _choice(text, item))(plain)
            if status == QUESTION and item.name in _OWN:
                own, sure = _choice(plain, item)
                to, status = (own, sure) if sure == CERTAIN else (to, status)
        found.append(Recode(word, to, status))
    return Recodes(item.name, tuple(found))
