"""Readers, rounding and films, against what was planted in the demo."""

import tomllib

import numpy as np
import pandas as pd
import pytest

from folders import DEMO
from lengthwise.analyse.fill_readings import analyse_fill_readings, levels_of
from lengthwise.analyse.rows import ResultRows
from lengthwise.folder import AuditFolder
from lengthwise.report.run_data import RunData
from lengthwise.report.sections.fill_readings import fill_readings
from lengthwise.report.wording import banned_words
from lengthwise.settings import Settings
from lengthwise.store.database import connect
from lengthwise.store.results import mart

TRUTH = tomllib.loads((DEMO / "truth.toml").read_text(encoding="utf-8"))


def test_levels_are_those_of_the_preset_with_its_edges() -> None:
    offsets = pd.Series([0.01, 0.004, 0.0, -0.4, -0.5, -2.0, -2.004, -2.01])
    assert list(levels_of(offsets, (-2.0, 0.0))) == [
        "beyond", "within", "within", "within", "within", "within", "within", "short",
    ]  # fmt: skip
    assert list(levels_of(offsets, (-2.0, -0.5))) == [
        "beyond", "flush", "flush", "flush", "within", "within", "within", "short",
    ]  # fmt: skip


def test_levels_equal_those_of_the_mart(demo: AuditFolder) -> None:
    connection = connect(demo.database, read_only=True)
    try:
        fills = mart(connection, "fills")
    finally:
        connection.close()
    known = fills[fills["level"] != "not_assessable"]
    assert list(levels_of(known["fill_offset_mm"], (-2.0, 0.0))) == list(known["level"])


def test_one_reader_twice_agrees_more_than_two_readers(demo_run: RunData) -> None:
    shares = {
        kind: demo_run.one(
            analysis="A9", measure="same_level", stratum_kind="readers", stratum=kind
        )
        for kind in ("two_readers", "one_reader_twice")
    }
    two, twice = shares["two_readers"], shares["one_reader_twice"]
    assert two is not None
    assert twice is not None
    filling = TRUTH["filling"]
    assert filling["repeat_difference_sd"]["size"] < filling["reader_difference_sd"]["size"]
    assert two["estimate"] < twice["estimate"]


def test_planted_rounding_is_found_and_fine_readings_get_no_note(demo_run: RunData) -> None:
    offset = demo_run.one(analysis="heaping", subject="fill_offset_mm")
    electronic = demo_run.one(analysis="heaping", subject="electronic")
    film = demo_run.one(analysis="heaping", subject="film")
    assert offset is not None
    assert electronic is not None
    assert film is not None
    # 35 in 100 offsets were kept on half millimetres, of the others two tenths fall there.
    assert offset["estimate"] == pytest.approx(0.35 + 0.65 * 0.2, abs=0.04)
    assert "partly rounding" in offset["reason"]
    assert electronic["reason"] == ""
    assert film["estimate"] == 1.0


def _frames(films: int, canals: int, bad: int) -> dict[str, pd.DataFrame]:
    fills = pd.DataFrame(
        {
            "treatment_id": np.repeat([f"T{number}" for number in range(films)], canals),
            "patient_id": np.repeat([f"P{number}" for number in range(films)], canals),
            "quarter": "2025-Q1",
            "fill_offset_mm": -0.5,
            "film_quality": np.repeat(["N"] * bad + ["A"] * (films - bad), canals),
        }
    )
    empty = pd.DataFrame(columns=["measure", "kind", "method", "length_mm"])
    return {"fills": fills, "reader_pairs": empty, "reading_conditions": empty}


def _film_row(films: int, canals: int, bad: int) -> dict[str, object]:
    rows = ResultRows()
    analyse_fill_readings(rows, _frames(films, canals, bad), ["2025-Q1"], Settings())
    return next(row for row in rows.estimates if row["analysis"] == "film_quality")


def test_films_are_counted_once_however_many_canals_they_show() -> None:
    row = _film_row(films=40, canals=3, bad=4)
    assert (row["numerator"], row["denominator"]) == (36, 40)
    assert row["estimate"] == pytest.approx(0.9)
    assert "fewer than the 100 advised" in str(row["reason"])
    assert _film_row(films=100, canals=2, bad=4)["reason"] == ""
    refused = _film_row(films=9, canals=4, bad=1)
    assert not refused["valid"]
    assert refused["reason"] == "fewer than 10 films: counts only"


def test_report_says_it_in_neutral_words(demo_run: RunData) -> None:
    shown = fill_readings(demo_run).replace("\\", "")
    assert "Films read by two readers: " in shown
    assert "Films rated acceptable for diagnosis: " in shown
    assert "target 95 in 100" in shown
    assert banned_words(shown) == []
