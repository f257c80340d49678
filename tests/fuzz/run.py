"""Makes cases by number, judges them and counts; one number always gives the same file."""

import tempfile
from collections import Counter
from collections.abc import Callable, Iterable
from pathlib import Path

import numpy as np

from fuzz.base_files import BaseFile, own_files, tidy_files
from fuzz.mutations import CLASSES, mutated
from fuzz.verdict import Broken, Workshop, judged, workshop
from fuzz.workbooks import ods, xlsx

LOAD_EACH = 4  # every fourth file is loaded into a database of its own, the others are checked
BOOK_EACH = 40  # every fortieth is a workbook
Found = tuple[int, str, str]  # number, class, outcome


def _base(random: np.random.Generator) -> BaseFile:
    bases = [*tidy_files().values(), *own_files().values()]
    return bases[int(random.integers(len(bases)))]


def case(number: int, seed: int, work: Path) -> tuple[str, BaseFile, bytes]:
    """Return (class, file, mutated bytes) of one case."""
    random = np.random.default_rng([seed, number])
    if number % BOOK_EACH == 0:
        base = list(tidy_files().values())[int(random.integers(6))]
        if number % (2 * BOOK_EACH):
            book, suffix = ods(random, base, work), ".ods"
        else:
            book, suffix = xlsx(random, base), ".xlsx"
        name = base.name.replace(".csv", suffix)
        return f"workbook {suffix}", BaseFile(name, base.header, base.rows), book
    kind = CLASSES[number % len(CLASSES)]
    base = _base(random)
    return kind, base, mutated(random, base, kind)


def one(place: Workshop, number: int, seed: int, work: Path) -> Found:
    """Return the outcome of one case; an outcome that starts with BROKEN is a fault."""
    kind, base, data = case(number, seed, work)
    try:
        return number, kind, judged(place, base, data, load=number % LOAD_EACH == 0)
    except Broken as broken:
        return number, kind, f"BROKEN {base.name}: {broken}"
    except Exception as error:  # noqa: BLE001  a crash is what is looked for
        return number, kind, f"BROKEN {base.name}: traceback of {type(error).__name__}: {error}"


def many(numbers: Iterable[int], seed: int, tell: Callable[[Found], None]) -> None:
    """Judge many cases in a temporary folder, telling of each."""
    with tempfile.TemporaryDirectory() as scratch:
        work = Path(scratch)
        place = workshop(work)
        for number in numbers:
            tell(one(place, number, seed, work))


def counted(found: list[Found]) -> dict[str, Counter[str]]:
    """Return the outcomes by class of mutation."""
    counts: dict[str, Counter[str]] = {}
    for _, kind, outcome in found:
        name = outcome.partition(" ")[0]
        counts.setdefault(kind, Counter())[name] += 1
    return counts
