"""Audit folders as they stand before a command is killed in them."""

import csv
import shutil

from faults.processes import finish
from folders import demo_copy
from lengthwise.folder import AuditFolder
from lengthwise.run import new_folder

SCALE = 0.04
CLINICIANS = ("C01", "C02")


def small_demo(root):
    """Return a folder with a small part of the demo, its files not yet loaded."""
    from demo_dataset.generate import generate

    folder = AuditFolder(root)
    new_folder(root)
    generate(root / "made", scale=SCALE)
    for path in (root / "made" / "exports").iterdir():
        shutil.move(path, folder.exports / path.name)
    shutil.rmtree(root / "made")
    return folder


def changed(path, column, value):
    """Rewrite a column of an export; `value(number, old)` gives what a row holds then."""
    with path.open(encoding="utf-8", newline="") as handle:
        header, *rows = csv.reader(handle)
    place = header.index(column)
    for number, row in enumerate(rows):
        # Some planted rows of the demo are too short or too long, and stay as they are.
        if len(row) == len(header):
            row[place] = value(number, row[place])
    with path.open("w", encoding="utf-8", newline="") as handle:
        csv.writer(handle, lineterminator="\n").writerows([header, *rows])


def few_clinicians(folder):
    """Give all treatments to two clinicians, so that a pack has few documents."""
    changed(
        folder.exports / "treatments.csv",
        "clinician_id",
        lambda number, _: CLINICIANS[number % len(CLINICIANS)],
    )


def corrected(folder):
    """Correct every tenth reading in the exports, as a practice's own file would."""
    other = {"yes": "no", "no": "yes"}
    changed(
        folder.exports / "readings.csv",
        "stable",
        lambda number, old: old if number % 10 else other.get(old, old),
    )


def ran(folder, *commands):
    """Run commands in the folder, all of which must succeed; return the folder."""
    for words in commands:
        assert finish(folder, *words.split()) == 0, words
    return folder


def not_loaded(root):
    """Return a folder with the demo's files and no database."""
    return demo_copy(root)


def loaded_before(root):
    """Return a folder with a load, a run of it, and a corrected file that is not loaded."""
    folder = ran(demo_copy(root), "ingest", "analyse")
    corrected(folder)
    return folder


def analysed_before(root):
    """Return a small folder with a load and a run of an earlier quarter."""
    return ran(small_demo(root), "ingest", "analyse 2025-Q1")


def packed_before(root):
    """Return a small folder with reports of a run, and a corrected load that has no run yet."""
    folder = small_demo(root)
    few_clinicians(folder)
    ran(folder, "ingest", "analyse 2025-Q1", "analyse", "pack")
    corrected(folder)
    return ran(folder, "ingest")
