"""A level read in words reaches the same levels as one in mm, and never becomes a length."""

import pytest
from derived import derived, review


def fills(*canals):
    """Return one filling for each (offset in mm, word, film quality)."""
    return [
        {"treatment_id": "T1", "canal": f"K{at}", "fill_offset_mm": offset, "level_in_words": word,
         "film_quality": quality, "reader_id": "C1", "read": 1}
        for at, (offset, word, quality) in enumerate(canals)
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("preset", "offset", "word", "quality", "level"),
    [
        ("0-2", None, "short", None, "short"),
        ("0-2", None, "within", "A", "within"),
        ("0-2", None, "beyond", None, "beyond"),
        # At the apex is within where the preset reaches to the apex, else a level of its own.
        ("0-2", None, "flush", None, "within"),
        ("0.5-2", None, "flush", None, "flush"),
        ("0-2", None, "beyond", "N", "not_assessable"),
        ("0-2", None, None, None, "not_assessable"),
        # The offset wins where both stand.
        ("0-2", -1.0, "beyond", None, "within"),
        ("0-2", -3.0, "within", None, "short"),
    ],
)
def test_level_of_a_filling(preset, offset, word, quality, level):
    found = derived(
        [review()], fills=fills((offset, word, quality)), preset=preset, table="marts.fills"
    )
    assert found["level"].tolist() == [level]
    assert found["fill_offset_mm"].isna().tolist() == [offset is None]


def test_worst_canal_counts_in_words_too_and_has_no_length():
    found = derived(
        [review()],
        fills=fills((-1.0, None, None), (None, "beyond", None)),
        table="marts.tooth_levels",
    )
    assert found["level"].tolist() == ["beyond"]
    assert found[["highest_offset_mm", "lowest_offset_mm"]].isna().all(axis=None)


def test_a_canal_that_could_not_be_assessed_takes_no_length_away():
    found = derived(
        [review()],
        fills=fills((-1.0, None, None), (None, None, None)),
        table="marts.tooth_levels",
    )
    assert found["highest_offset_mm"].tolist() == [-1.0]
