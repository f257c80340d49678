"""Files mutated in every way that is known: nothing crashes, is lost, or tells a row's value.

`make fuzz` does the same for ten thousand files.
"""

from collections import Counter

import pytest

from fuzz.base_files import MARK, tidy_files
from fuzz.mutations import CLASSES, mutated
from fuzz.run import case, counted, one
from fuzz.verdict import Broken, drafted, rows_in, untold, workshop

FILES = 5 * len(CLASSES)
PARTS = 2


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    return workshop(tmp_path_factory.mktemp("mutated"))


@pytest.mark.parametrize("part", range(PARTS))
def test_mutated_files_are_judged_whole_and_told_without_values(place, tmp_path, part):
    found = [one(place, number, 5, tmp_path) for number in range(part, FILES, PARTS)]
    assert [item for item in found if item[2].startswith("BROKEN")] == []
    outcomes = Counter(outcome for _, _, outcome in found)
    # Where one outcome is missing, the mutations no longer reach what they are for.
    assert (
        min(outcomes[name] for name in ("clean", "findings", "unreadable", "identifiers")) > 2
    )


def test_a_draft_of_any_file_is_a_valid_mapping_or_a_plain_refusal(tmp_path):
    counts = Counter()
    for number in range(1, 10 * len(CLASSES)):
        _, base, data = case(number, 9, tmp_path)
        path = tmp_path / base.name
        path.write_bytes(data)
        counts[drafted(path)] += 1
    assert counts[1] > 5 * counts[0] > 0


def test_every_way_of_mutating_is_among_the_first_files(tmp_path):
    kinds = {case(number, 5, tmp_path)[0] for number in range(81)}
    assert kinds == {*CLASSES, "workbook .xlsx", "workbook .ods"}


def test_one_number_always_gives_the_same_file(tmp_path):
    assert case(17, 5, tmp_path) == case(17, 5, tmp_path)
    assert case(17, 5, tmp_path)[2] != case(48, 5, tmp_path)[2]


def test_the_counts_and_the_mark_are_those_of_the_files():
    base = tidy_files()["readings"]
    text = base.text()
    assert rows_in(text.encode(), base) == len(base.rows)
    assert rows_in(text.replace("\n", "\n\n").encode(), base) == len(base.rows)
    assert rows_in(b'treatment_id\n"T1\n', base) is None
    assert text.count(MARK) > 2 * len(base.rows)
    with pytest.raises(Broken, match="a value of a row is in the findings"):
        untold(f"row 1: {MARK}", "the findings")


def test_outcomes_are_counted_by_class():
    found = [(0, "quotes", "clean"), (1, "quotes", "BROKEN x: y"), (2, "empty", "unreadable")]
    assert counted(found)["quotes"] == Counter(clean=1, BROKEN=1)


def test_a_mutation_changes_the_file():
    import numpy as np

    base = tidy_files()["canals"]
    same = [
        kind for kind in CLASSES
        if all(
            mutated(np.random.default_rng([1, at]), base, kind) == base.text().encode()
            for at in range(5)
        )
    ]  # fmt: skip
    assert same == []
