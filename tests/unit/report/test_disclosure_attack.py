"""An attacker with one or two shared packs finds out no masked count; without protection, many."""

import json
import math

import numpy as np
import pandas as pd
import pytest

from disclosure_attack import attack, small_cells, true_counts
from disclosure_runs import margins_run, some_counts
from lengthwise.report.disclosure import release_record, shared_view
from lengthwise.report.disclosure.families import shareable
from lengthwise.report.disclosure.profiles import profile_of
from lengthwise.report.disclosure.publish import masked
from lengthwise.report.run_data import RunData, from_frames
from report_runs import RunBuilder, _run_row, build_run

WIDTH = 9
# (short, within, beyond, not assessable) expected in one tooth type and quarter
PRACTICES = {
    "usual": (7, 40, 9, 3),
    "small": (3, 20, 3, 1),
    "few not assessable": (5, 60, 5, 0.5),
}


def is_safe(ends):
    """At least ten values are left, and half of those that a masked count can have."""
    return ends[1] - ends[0] >= WIDTH and min(ends[1], WIDTH) - ends[0] >= WIDTH // 2


def found_out(known, answers):
    """Return the small counts that the attacker can tell too closely."""
    ranges = {cell: known.range_of(cell) for cell in small_cells(answers) if cell in known.ends}
    assert all(low <= answers[cell] <= high for cell, (low, high) in ranges.items())
    return {cell: ends for cell, ends in ranges.items() if not is_safe(ends)}


def additions(known, answers):
    """Return the true counts of what was added between two spans."""
    added = {}
    for cell in known.ends:
        if cell[0] == "added":
            _, _, later, *old = cell
            new = (*old[:-1], (*old[-1][:2], later))
            if tuple(old) in answers and new in answers:
                added[cell] = answers[new] - answers[tuple(old)]
    return added


def masked_without_protection(run):
    """Mask small counts in their own rows and leave all else as it is."""
    profile = profile_of(run, "shared")
    rows = shareable(run.estimates)
    small = [
        profile.is_small(row["numerator"])
        or profile.is_small(row["denominator"] - row["numerator"])
        if not math.isnan(row["numerator"] + row["denominator"])
        else False
        for _, row in rows.iterrows()
    ]
    kept = rows.copy()
    for index in rows.index[small]:
        for name, value in masked(rows.loc[index], "masked").items():
            kept.loc[index, name] = value
    return RunData(run.run, kept.drop(columns="family"), run.points, run.lists, run.findings)


@pytest.mark.parametrize("practice", PRACTICES)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_one_pack_gives_no_masked_count_away(practice, seed):
    run = margins_run(some_counts(seed, mean=PRACTICES[practice]))
    answers = true_counts(run)
    assert small_cells(answers)
    assert found_out(attack(shared_view(run)), answers) == {}


def test_the_attacker_succeeds_where_only_small_cells_are_masked():
    run = margins_run(some_counts(2, mean=PRACTICES["small"]))
    answers = true_counts(run)
    known = attack(masked_without_protection(run))
    exact = {
        cell: known.range_of(cell) for cell in small_cells(answers) if cell in known.ends
    }  # fmt: skip
    assert sum(low == high == answers[cell] for cell, (low, high) in exact.items()) >= 5


@pytest.mark.parametrize("part", ["estimate", "interval"])
def test_the_attacker_reads_counts_from_true_shares_and_intervals(part):
    """A rounded count beside a share worked out from the true ones is no rounding."""
    run = margins_run(some_counts(2, mean=(25, 160, 30, 12)))
    view = shared_view(run)
    leaky = view.estimates.copy()
    true = run.estimates.set_index("result_id")
    for index, row in leaky.iterrows():
        if row["valid"] and row["section"] == "fill":
            columns = ["estimate"] if part == "estimate" else ["lower", "upper"]
            leaky.loc[index, columns] = true.loc[row["result_id"], columns].to_numpy()
            if part == "interval":
                leaky.loc[index, "estimate"] = row["estimate"] + 1e-6
    known = attack(RunData(view.run, leaky, view.points, view.lists, view.findings))
    answers = true_counts(run)
    cell = ("fill", "share", "short", ("", "", "2025-Q3..2026-Q1"))
    low, high = known.range_of(cell)
    assert low == high == answers[cell]
    low, high = attack(view).range_of(cell)
    assert high > low


def test_shares_and_intervals_of_a_pack_say_no_more_than_its_counts():
    view = shared_view(margins_run(some_counts(2, mean=(25, 160, 30, 12))))
    shares = view.estimates[view.estimates["valid"] & (view.estimates["measure"] == "share")]
    assert len(shares) > 20
    for _, row in shares.iterrows():
        assert row["estimate"] == row["numerator"] / row["denominator"]
        assert round(row["lower"], 2) == row["lower"]
        assert round(row["upper"], 2) == row["upper"]


def two_releases(seed, mean, added=None):
    counts = some_counts(seed, mean=mean, quarters=4)
    if added is not None:
        counts[:, 3] = np.random.default_rng(seed).poisson(added, size=(3, 4))
    runs = margins_run(counts[:, :3]), margins_run(counts)
    return runs, true_counts(runs[0]) | true_counts(runs[1])


@pytest.mark.parametrize(
    ("seed", "mean", "added"),
    [
        (0, (9, 40, 12, 4), None),
        (5, (3, 20, 3, 1), None),
        (3, (25, 160, 30, 12), (4, 9, 3, 2)),
        (6, (25, 160, 30, 12), None),
    ],
)
def test_two_packs_in_a_row_give_neither_counts_nor_additions_away(seed, mean, added):
    (first, second), answers = two_releases(seed, mean, added)
    before = shared_view(first)
    after = shared_view(second, [json.loads(json.dumps(release_record(before)))])
    known = attack(before, after)
    answers |= additions(known, answers)
    assert found_out(known, answers) == {}


def test_the_attacker_learns_small_additions_where_releases_ignore_each_other():
    (first, second), answers = two_releases(3, (25, 160, 30, 12), (4, 9, 3, 2))
    known = attack(shared_view(first), shared_view(second))
    answers |= additions(known, answers)
    told = found_out(known, answers)
    assert len(told) >= 10
    assert any(cell[0] == "added" for cell in told)


def test_the_attacker_finds_one_hidden_level_among_shown_ones():
    """The plainest attack: a whole less its other parts."""
    builder = RunBuilder()
    for level, count in zip(("short", "within", "beyond"), (7, 60, 33), strict=True):
        builder.share("fill", "B1", level, "share", count, 100)
    builder.share("fill", "B1", "not_assessable", "share", 25, 125)
    frames = {"run": _run_row("r", {}), "estimates": pd.DataFrame(builder.estimates)}
    run = from_frames(frames | {n: pd.DataFrame() for n in ("points", "lists", "findings")})
    cell = ("fill", "share", "short", ("", "", "2024-Q3..2026-Q2"))
    assert attack(masked_without_protection(run)).range_of(cell) == (7, 7)
    assert is_safe(attack(shared_view(run)).range_of(cell))


def lengths_run():
    """Return a run of lengths and outcomes, some of its cells small."""
    run = build_run()
    builder = RunBuilder()
    period = {"reference": "confirmed"}
    for name, near, far, n in (("trial_cone", 205, 211, 230), ("irrigation_tip", 60, 64, 80)):
        builder.share("agreement", "A6", name, "share_within_0_5", near, n, **period)
        builder.share("agreement", "A6", name, "share_within_1_0", far, n, **period)
    builder.share("outcome", "chain", "electronic", "share_doubtful", 57, 181)
    for stratum, whole in (("doubtful", 57), ("other", 124)):
        own = {"stratum_kind": "readings", "stratum": stratum}
        for level, cases in (("short", 9), ("beyond", 14)):
            builder.share("outcome", "chain", level, "share_of_fillings", cases, whole, **own)
    kept = run.estimates[run.estimates["section"].isin(["agreement", "outcome"])]
    kept = kept[kept["analysis"] != "chain"]
    rows = pd.concat([kept, pd.DataFrame(builder.estimates)], ignore_index=True)
    return RunData(run.run, rows, run.points, run.lists, run.findings)


def shared_part(run):
    """Return the run with the rows that may be shared at all, unmasked."""
    rows = shareable(run.estimates).drop(columns="family")
    return RunData(run.run, rows, run.points, run.lists, run.findings)


def test_no_masked_count_of_any_kind_of_result_is_found_out():
    run = shared_part(lengths_run())
    answers = true_counts(run)
    view = shared_view(run)
    known = attack(view)
    assert len(small_cells(answers)) >= 7
    assert found_out(known, answers) == {}
    # Few canals between the two tolerances are not told by the difference of the two either.
    band = ("band", "trial_cone minus confirmed", ("", "", "2024-Q3..2026-Q2"))
    low, high = known.range_of(band)
    assert low <= 6 <= high
    assert is_safe((low, high))


def test_the_band_between_two_tolerances_is_told_where_both_are_shown():
    known = attack(masked_without_protection(lengths_run()))
    band = ("band", "trial_cone minus confirmed", ("", "", "2024-Q3..2026-Q2"))
    assert known.range_of(band) == (6, 6)
