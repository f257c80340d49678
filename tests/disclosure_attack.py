"""Somebody who has shared packs and wants the counts that are not in them.

Written from what a reader knows of the reports alone: which counts are parts of which whole,
that printed counts are rounded, and what percentages and intervals are worked out from. It
shares no code with the suppression. Every count is a variable; whole numbers that fit all that
is printed are searched for the least and the largest value of each.
"""

import itertools
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from scipy.optimize import Bounds, LinearConstraint, milp
from statsmodels.stats.proportion import proportion_confint

LEVELS = ("short", "within", "beyond")
FLOW = (
    ("canals_with_pairs", "canals"),
    ("fills", "canals"),
    ("fills_assessable", "fills"),
    ("teeth_due", "treatments"),
    ("teeth_reviewed", "teeth_due"),
)
MANY = 10**6


@dataclass
class Knowledge:
    """What is known of every count: ends, and sums that are nought."""

    ends: dict[tuple, list[float]] = field(default_factory=dict)
    sums: list[dict[tuple, int]] = field(default_factory=list)

    def learn(self, cell, low=0.0, high=MANY):
        ends = self.ends.setdefault(cell, [0.0, MANY])
        ends[0], ends[1] = max(ends[0], low), min(ends[1], high)

    def add_sum(self, whole, parts):
        for cell in (whole, *parts):
            self.learn(cell)
        self.sums.append({**dict.fromkeys(parts, 1), whole: -1})

    def range_of(self, cell):
        """Return the least and the largest whole number that fits everything."""
        names = sorted(self.ends, key=str)
        place = {name: position for position, name in enumerate(names)}
        matrix = np.zeros((len(self.sums), len(names)))
        for line, terms in enumerate(self.sums):
            for name, weight in terms.items():
                matrix[line, place[name]] += weight
        ends = np.array([self.ends[name] for name in names])
        found = []
        for sign in (1, -1):
            objective = np.zeros(len(names))
            objective[place[cell]] = sign
            solved = milp(
                objective,
                constraints=LinearConstraint(matrix, 0, 0) if len(matrix) else (),
                bounds=Bounds(ends[:, 0], ends[:, 1]),
                integrality=np.ones(len(names)),
            )
            if solved.status != 0:
                raise AssertionError(f"what is printed does not fit together: {solved.message}")
            found.append(round(sign * solved.fun))
        return tuple(found)


def true_counts(run):
    """Return every count of an unmasked run by its cell: the answers."""
    answers = {}
    for _, row in run.estimates.iterrows():
        for cell, value in zip(_cells(row), _numbers(row), strict=True):
            if value is not None:
                answers[cell] = int(value)
    return answers


def attack(*packs):
    """Return what somebody knows who holds these packs, the oldest first."""
    known = Knowledge()
    for pack in packs:
        told = pack.setting("disclosure", default={})
        base = int(told.get("rounded_to", 1)) if told else 1
        least = int(told.get("minimum_count", 0)) if told else 0
        for _, row in pack.estimates.iterrows():
            _learn_row(known, row, base, least)
    _learn_sums(known, pd.concat([pack.estimates for pack in packs]))
    _learn_bands(known)
    _learn_chain(known)
    _learn_growth(known)
    return known


def small_cells(answers, least=10, *, with_nought=True):
    """Return the counts that must not be found out."""
    return {
        cell: count
        for cell, count in answers.items()
        if 0 < count < least or (count == 0 and with_nought)
    }


def _place(row):
    return (row["stratum_kind"], row["stratum"], row["period"])


def _cells(row):
    """Return part, rest and whole of a row; None where it has none."""
    place, subject = _place(row), row["subject"]
    if row["section"] == "agreement":
        subject = f"{subject} minus {row['reference']}"
    if row["section"] == "flow":
        whole = dict(FLOW).get(subject)
        part = ("flow", subject, place)
        return part, ("rest", *part), ("flow", whole, place) if whole else None
    group = (
        ("all" if subject == "not_assessable" else "assessed")
        if row["section"] == "fill"
        else subject
    )
    part = (row["section"], row["measure"], subject, place)
    return part, ("rest", *part), ("group", row["section"], group, place)


def _numbers(row):
    part = row["numerator"]
    if pd.isna(part) and row["section"] == "flow":
        part = row["estimate"]
    part = None if pd.isna(part) else part
    whole = None if pd.isna(row["denominator"]) else row["denominator"]
    rest = whole - part if part is not None and whole is not None else None
    return part, rest, whole


def _learn_row(known, row, base, least):
    part, rest, whole = _cells(row)
    counts = _numbers(row)
    printed = {part: counts[0], whole: counts[2]}
    for cell in (part, rest, whole):
        if cell:
            known.learn(cell)
    if whole:
        known.add_sum(whole, (part, rest))
    for cell, count in printed.items():
        if cell and count is not None:
            low, high = count - base // 2, count + (base - 1) // 2
            known.learn(cell, max(low, least), high)
    if counts[0] is not None and least and whole:
        known.learn(rest, least)
    if row["unit"] == "proportion" and not pd.isna(row["estimate"]):
        _learn_share(known, row, part, whole, base)


def _learn_share(known, row, part, whole, base):
    """Try every pair of counts in reach against the percentage and its interval."""
    share = row["estimate"]
    if pd.isna(row["numerator"]) or pd.isna(row["denominator"]):
        return
    n, d = int(row["numerator"]), int(row["denominator"])
    if base > 1 and abs(share - n / d) < 1e-12:
        return  # worked out from the printed counts: it says nothing more
    reach = range(-(base // 2), base // 2 + 1)
    pairs = [(n + i, d + j) for i in reach for j in reach if 0 <= n + i <= d + j and d + j]
    fitting = [(i, j) for i, j in pairs if abs(i / j - share) < 1e-9] or [
        (i, j) for i, j in pairs if _fits_interval(row, i, j)
    ]
    if fitting:
        known.learn(part, min(i for i, _ in fitting), max(i for i, _ in fitting))
        known.learn(whole, min(j for _, j in fitting), max(j for _, j in fitting))


def _fits_interval(row, part, whole):
    low, high = proportion_confint(part, whole, method="wilson")
    return abs(low - row["lower"]) < 1e-9 and abs(high - row["upper"]) < 1e-9


def _learn_sums(known, rows):
    fill = rows[(rows["section"] == "fill") & (rows["measure"] == "share")]
    places = list(dict.fromkeys(_place(row) for _, row in fill.iterrows()))

    def level(name, place):
        return ("fill", "share", name, place)

    for place in places:
        assessed, everything = (
            ("group", "fill", "assessed", place),
            ("group", "fill", "all", place),
        )
        known.add_sum(assessed, [level(name, place) for name in LEVELS])
        known.add_sum(everything, [assessed, level("not_assessable", place)])
    spans = [place for place in places if place[0] == "" and ".." in place[2]]
    for whole in spans:
        for kind in ("tooth_type", "quarter"):
            parts = [p for p in places if p[0] == kind and _is_part(p, whole[2])]
            if parts:
                for name in (*LEVELS, "not_assessable"):
                    known.add_sum(level(name, whole), [level(name, part) for part in parts])
    for kind, stratum, period in places:
        if kind == "quarter" and ("", "", stratum) in places:
            for name in (*LEVELS, "not_assessable"):
                known.add_sum(
                    level(name, ("", "", stratum)), [level(name, (kind, stratum, period))]
                )
    for _, row in rows[
        (rows["section"] == "criteria") & (rows["subject"] == "fill_within")
    ].iterrows():
        if _place(row) in places:
            known.add_sum(
                ("criteria", "share", "fill_within", _place(row)),
                [level("within", _place(row))],
            )
    for place in {_place(row) for _, row in rows[rows["section"] == "flow"].iterrows()} & set(
        places
    ):
        known.add_sum(("flow", "fills", place), [("group", "fill", "all", place)])


def _learn_bands(known):
    """Within the narrow tolerance, between the two, and outside the wide one make the whole."""
    near = [cell for cell in known.ends if cell[:2] == ("agreement", "share_within_0_5")]
    for cell in near:
        far = (cell[0], "share_within_1_0", *cell[2:])
        if far in known.ends:
            known.add_sum(far, [cell, ("band", *cell[2:])])


def _learn_chain(known):
    """The doubtful readings of the first step are the whole of the second."""
    for cell in [cell for cell in known.ends if cell[:2] == ("outcome", "share_doubtful")]:
        period = cell[-1][2]
        for level in ("short", "beyond"):
            for part, stratum in ((cell, "doubtful"), (("rest", *cell), "other")):
                whole = ("group", "outcome", level, ("readings", stratum, period))
                if whole in known.ends:
                    known.add_sum(whole, [part])


def _is_part(place, span):
    first, last = span.split("..")
    return first <= place[1] <= last if place[0] == "quarter" else place[2] == span


def _learn_growth(known):
    """A longer span is a shorter one and what was added to it."""
    spans = {}
    for cell in list(known.ends):
        kind, stratum, period = cell[-1] if isinstance(cell[-1], tuple) else ("", "", "")
        if ".." in period:
            spans.setdefault((*cell[:-1], kind, stratum), []).append((period, cell))
    for found in spans.values():
        ordered = sorted(found)
        for (first, old), (second, new) in itertools.pairwise(ordered):
            if first.split("..")[0] == second.split("..")[0]:
                known.add_sum(new, [old, ("added", first, second, *old)])
