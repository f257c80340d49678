"""Numbers with check digits: which scheme most of a column's values pass, if any.

The rules of most schemes come from python-stdnum; three that it lacks are written out here.
"""

import re
from collections.abc import Callable, Iterable
from importlib import import_module

from lengthwise.ingest.identifier_patterns import LEAST_NUMBERS, SHARE
from lengthwise.ingest.identifier_words import CARD, NATIONAL

_STDNUM = (
    "gb.nhs", "us.itin", "ca.sin", "es.dni", "es.nie", "fr.nir", "nl.bsn", "be.nn",
    "se.personnummer", "no.fodselsnummer", "ch.ssn", "at.vnr", "fi.hetu", "pl.pesel",
    "il.idnr", "za.idnr",
)  # fmt: skip
_FIRST_LOOK = 40
_BLANKS = re.compile(r"[ ./-]")


def luhn(digits: str) -> bool:
    """Return whether a string of digits passes the Luhn check."""
    total = 0
    for place, digit in enumerate(reversed(digits)):
        value = int(digit) * (1 + place % 2)
        total += value - 9 if value > 9 else value
    return total % 10 == 0


def is_card(number: str) -> bool:
    """Return whether this is a payment card number: 13 to 19 digits, issuer range, Luhn."""
    return bool(re.fullmatch(r"[2-6]\d{12,18}", number)) and luhn(number)


def is_us_provider(number: str) -> bool:
    """Return whether this is a US provider number: Luhn over 80840 and the number."""
    return bool(re.fullmatch(r"[12]\d{9}", number)) and luhn("80840" + number)


def is_australian_medicare(number: str) -> bool:
    """Return whether this is an Australian Medicare number."""
    if not re.fullmatch(r"[2-6]\d{9,10}", number):
        return False
    weights = (1, 3, 7, 9, 1, 3, 7, 9)
    total = sum(int(digit) * weight for digit, weight in zip(number, weights, strict=False))
    return total % 10 == int(number[8])


def is_german_health_insurance(number: str) -> bool:
    """Return whether this is a German health insurance number."""
    if not re.fullmatch(r"[A-Z]\d{9}", number):
        return False
    digits = f"{ord(number[0]) - 64:02d}{number[1:9]}"
    products = (int(digit) * (1 + place % 2) for place, digit in enumerate(digits))
    return sum(value // 10 + value % 10 for value in products) % 10 == int(number[9])


def is_canadian_padded(number: str) -> bool:
    """Return whether nine digits pass as a Canadian number, unused first digits too."""
    return bool(re.fullmatch(r"\d{9}", number)) and luhn(number)


def _valid(scheme: str) -> Callable[[str], bool]:
    module = import_module(f"stdnum.{scheme}")
    return lambda number: bool(module.is_valid(number))


def schemes() -> list[tuple[str, Callable[[str], bool]]]:
    """Return (identifier class, test) of every scheme."""
    own: list[tuple[str, Callable[[str], bool]]] = [
        (CARD, is_card),
        (NATIONAL, is_us_provider),
        (NATIONAL, is_australian_medicare),
        (NATIONAL, is_german_health_insurance),
        (NATIONAL, is_canadian_padded),
    ]
    return [*own, (CARD, _valid("iban")), *((NATIONAL, _valid(name)) for name in _STDNUM)]


def _passes(test: Callable[[str], bool], bare: str) -> bool:
    # A reader that made numbers of them has lost leading zeros: these are put back.
    return test(bare) or (bare.isdigit() and (test(bare.zfill(10)) or test(bare.zfill(9))))


def number_class(values: Iterable[str], n_values: int) -> tuple[str, list[str]]:
    """Return the class and the values of the first scheme that most of a column passes.

    Parameters
    ----------
    values : iterable of str
        Different values of the column that look like long numbers.
    n_values : int
        All different values of the column that were looked at.
    """
    found = [(value, _BLANKS.sub("", value).upper()) for value in values]
    if len(found) < LEAST_NUMBERS or len(found) < SHARE * n_values:
        return "", []
    first = found[:_FIRST_LOOK]
    for kind, test in schemes():
        if 2 * sum(_passes(test, bare) for _, bare in first) < len(first):
            continue  # far from most of them: no need to test the rest
        passing = [value for value, bare in found if _passes(test, bare)]
        if len(passing) >= SHARE * n_values:
            return kind, passing
    return "", []
