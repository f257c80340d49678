"""With many readings a part of the analysis runs in a second process: the rows are the same."""

import os
import signal

import pytest

from lengthwise.analyse import beside
from lengthwise.analyse.rows import ResultRows, Topic
from lengthwise.errors import AnalysisError
from lengthwise.statistics.results import Estimate


def some_rows(subject: str) -> ResultRows:
    rows = ResultRows()
    value = Estimate(1.0, 0.5, 1.5, 0.95, 10, 0, str(os.getpid()))
    rows.add(Topic("agreement", "A2", "2026-Q2"), "bias", subject, value, unit="mm")
    rows.point("figure", "panel", "series", 1.0, 2.0)
    return rows


def ended(subject: str) -> ResultRows:
    os.kill(os.getpid(), signal.SIGKILL)
    return some_rows(subject)


@pytest.fixture
def two_cores(monkeypatch):
    monkeypatch.setattr(beside, "cores", lambda: 2)


def test_work_runs_here_with_few_readings_and_beside_with_many(two_cores):
    with beside.second_process(beside.MANY_READINGS - 1) as start:
        here = start(some_rows, "film")()
    with beside.second_process(beside.MANY_READINGS) as start:
        there = start(some_rows, "film")()
    assert here.estimates[0]["method"] == str(os.getpid())
    assert there.estimates[0]["method"] != str(os.getpid())
    assert there.points == here.points


def test_a_second_process_that_ends_early_is_told_in_words(two_cores):
    with (
        pytest.raises(AnalysisError, match="free memory"),
        beside.second_process(beside.MANY_READINGS) as start,
    ):
        start(ended, "film")()


def test_rows_of_another_part_come_after_these():
    rows, other = some_rows("film"), some_rows("cbct")
    rows.extend(other)
    assert [row["subject"] for row in rows.estimates] == ["film", "cbct"]
    assert [row["position"] for row in rows.estimates] == [0, 1]
    assert [row["position"] for row in rows.points] == [0, 1]
