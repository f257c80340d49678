"""Identifiers are found by class; codes, numbers and words of the trade are left alone."""

import pytest

from bench.bench_identifiers import demo_alarms, false_alarms, recall
from lengthwise.ingest.identifier_numbers import (
    is_australian_medicare,
    is_canadian_padded,
    is_card,
    is_german_health_insurance,
    is_us_provider,
    number_class,
)
from lengthwise.ingest.identifier_words import FREE_TEXT, header_class
from lengthwise.store.database import connect


@pytest.fixture
def connection():
    opened = connect(None)
    yield opened
    opened.close()


def test_nearly_every_identifier_of_the_bank_is_caught(connection):
    frame = recall(connection, rows=12, seed=11, lone=1)
    direct = frame.drop(index=FREE_TEXT)
    assert direct["caught"].sum() >= 0.99 * direct["identifiers"].sum()
    assert frame["recall"].min() >= 0.95


def test_clean_columns_are_left_alone(connection):
    assert [column.header for column in false_alarms(connection, rows=40, seed=21)] == []


def test_no_column_of_the_demo_is_flagged(connection):
    flagged, total, rows_flagged, n_rows = demo_alarms(connection)
    assert flagged == rows_flagged == 0
    assert total > 60
    assert n_rows > 10_000


# Passing and failing numbers: printed in public tests and documents of the schemes; the
# Australian one in a national specification of 2011, the German one in a statute's annex.
@pytest.mark.parametrize(
    ("test", "good", "bad"),
    [
        (is_card, "4111111111111111", "4111111111111112"),
        (is_us_provider, "1234567893", "1234567890"),
        (is_australian_medicare, "2123456701", "2123258701"),
        (is_german_health_insurance, "A000500015", "A123456787"),
        (is_canadian_padded, "046454286", "999999999"),
    ],
)
def test_check_digits_of_our_own_rules(test, good, bad):
    assert test(good)
    assert not test(bad)


def test_one_passing_number_among_many_is_no_evidence():
    column = ["9990000018"] + [f"99900001{at:02d}" for at in range(30)]
    assert number_class(column, len(column)) == ("", [])


@pytest.mark.parametrize(
    ("header", "kind"),
    [
        ("Patient name", "name"),
        ("PatientName", "name"),
        ("Vorname", "name"),
        ("Prénom", "name"),
        ("E-Mail", "e-mail"),
        ("Date of birth", "date of birth"),
        ("NHS number", "national or insurance number"),
        ("Serial no.", "device serial number"),
        ("Remarks", "free text"),
        ("Canal name", ""),
        ("Tooth", ""),
        ("treatment_date", ""),
        ("Behandler", ""),
    ],
)
def test_header_words(header, kind):
    assert header_class(header) == kind
