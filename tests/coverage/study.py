"""What a study of coverage is: a grid of practices with a known truth, and how one is tried."""

import itertools
import json
import zlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

Cell = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Tried:
    """One quantity by one method over the simulations (n,) of a cell.

    `truth` is a number, or (n,) where it differs by simulation. Where a method refused, its
    ends are NaN. `limit_stated` is true where the result itself said how far its
    interval held in simulation.
    """

    method: str
    quantity: str
    truth: float | np.ndarray
    estimate: np.ndarray
    lower: np.ndarray
    upper: np.ndarray
    limit_stated: np.ndarray


Try = Callable[[Cell, int, np.random.Generator], list[Tried]]


@dataclass(frozen=True, slots=True)
class Study:
    """A named grid; `simulate` tries one cell so many times with its own generator.

    `keep` says which combinations make sense.
    """

    name: str
    about: str
    grid: dict[str, tuple[Any, ...]]
    simulate: Try
    simulations: int = 1000
    seed: int = 20240601
    keep: Callable[[Cell], bool] = field(default=lambda cell: True)

    def cells(self) -> Iterator[dict[str, Any]]:
        """Yield every cell of the grid that makes sense, in the order of the grid."""
        for values in itertools.product(*self.grid.values()):
            cell = dict(zip(self.grid, values, strict=True))
            if self.keep(cell):
                yield cell


def text_of(cell: Cell) -> str:
    """Return the cell as the text that stands in the table, the same in every run."""
    return json.dumps(dict(cell), ensure_ascii=False)


def generator_of(study: Study, cell: Cell) -> np.random.Generator:
    """Return the cell's own generator: the same whatever ran before it, and where."""
    return np.random.default_rng([study.seed, zlib.crc32(text_of(cell).encode())])
