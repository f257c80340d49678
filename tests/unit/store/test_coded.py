"""Marts as codes hold the same rows as the marts: patients together, text as categories."""

import duckdb
import pytest

from lengthwise.store.coded import coded_marts
from lengthwise.store.criteria import CodedCases, criterion_cases

RULE = {
    "id": "own", "table": "fills", "denominator": "level is not null",
    "numerator": "level = 'within'", "exception": "site_id = 'S2'",
}  # fmt: skip


@pytest.fixture
def connection():
    found = duckdb.connect()
    found.execute("create schema marts")
    found.execute("create schema intermediate")
    found.execute(
        "create table intermediate.int_treatments_classified as select * from (values "
        "('T1', 'P2'), ('T2', 'P1'), ('T3', 'P2')) as rows (treatment_id, patient_id)"
    )
    found.execute(
        "create table marts.outcomes as select treatment_id, patient_id, 'C01' as clinician_id, "
        "if(treatment_id = 'T3', 'S2', 'S1') as site_id, '2026-Q1' as quarter, "
        "cast(null as text) as month from intermediate.int_treatments_classified"
    )
    found.execute(
        "create table marts.fills as select outcomes.*, level from marts.outcomes inner join "
        "(values ('T1', 'within'), ('T1', 'short'), ('T2', 'within'), ('T3', 'short')) "
        "as rows (treatment_id, level) using (treatment_id)"
    )
    yield found
    found.close()


def test_patients_stand_together_under_one_number_in_every_frame(connection):
    frames = coded_marts(connection, ["outcomes", "fills"])
    assert frames["outcomes"]["treatment_id"].tolist() == ["T2", "T1", "T3"]
    assert frames["outcomes"]["patient_id"].tolist() == [0, 1, 1]
    assert frames["fills"]["patient_id"].tolist() == [0, 1, 1, 1]


def test_text_has_the_same_categories_in_every_frame_and_a_blank_column_none(connection):
    frames = coded_marts(connection, ["outcomes", "fills"])
    for column in ("treatment_id", "site_id", "quarter", "month"):
        assert frames["outcomes"][column].dtype == frames["fills"][column].dtype
    assert frames["fills"]["level"].cat.categories.tolist() == ["short", "within"]
    assert frames["fills"]["month"].isna().all()
    assert len(frames["fills"]["month"].cat.categories) == 0


def test_cases_as_codes_are_the_cases_of_the_criterion(connection):
    frames = coded_marts(connection, ["outcomes", "fills"])
    coded = CodedCases(connection, frames["outcomes"])
    found, plain = coded.of(RULE), criterion_cases(connection, RULE)
    keys = ["treatment_id", "site_id", "quarter", "is_met", "is_exception"]
    listed = found[keys].astype({"treatment_id": str, "site_id": str, "quarter": str})
    both = [sorted(map(tuple, frame[keys].to_numpy().tolist())) for frame in (listed, plain)]
    assert both[0] == both[1]
    assert coded.of(RULE) is found
