"""Invented practices for the bench: how canals lie in teeth and patients, and their errors."""

from dataclasses import dataclass

import numpy as np

# Canals per tooth of each kind of patient; patients take the kinds in turn.
KINDS: dict[str, tuple[tuple[int, ...], ...]] = {
    "1": ((1,),),
    "1, one in ten 2": ((1,),) * 9 + ((2,),),
    "2": ((2,),),
    "4": ((1, 3),),
    "8": ((1, 3, 4),),
    "1 to 8": ((1,), (1,), (2,), (3,), (1, 3), (3, 2), (4, 2), (3, 4, 1)),
    # One and a half, and three, canals a patient on average.
    "1 or 2": ((1,), (2,)),
    "1 to 5": ((1,), (3,), (2, 1), (1, 4)),
}
# Shapes of gamma errors: skewness 1 and 2, the second one exponential.
SHAPES = {"skewed": 4.0, "strongly skewed": 1.0}


@dataclass(frozen=True, slots=True)
class Layout:
    """Patient and tooth of each canal (n,), as codes."""

    patient: np.ndarray
    tooth: np.ndarray

    @property
    def n_canals(self) -> int:
        return len(self.patient)


def layout(canals: str, patients: int) -> Layout:
    """Return the canals of so many patients; `canals` is a name of KINDS."""
    kinds = KINDS[canals]
    teeth = [kinds[one % len(kinds)] for one in range(patients)]
    owner = np.repeat(np.arange(patients), [len(one) for one in teeth])
    sizes = np.concatenate([np.asarray(one) for one in teeth])
    return Layout(np.repeat(owner, sizes), np.repeat(np.arange(len(sizes)), sizes))


def noise(generator: np.random.Generator, n: int, errors: str) -> np.ndarray:
    """Return `n` errors of mean 0 and SD 1, "normal" or of one of `SHAPES`."""
    if errors == "normal":
        return generator.standard_normal(n)
    shape = SHAPES[errors]
    return (generator.gamma(shape, size=n) - shape) / np.sqrt(shape)


def differences(
    where: Layout, icc: float, errors: str, generator: np.random.Generator, practices: int
) -> np.ndarray:
    """Return differences (practices, n) of mean 0 and SD 1.

    Two canals of one tooth are alike by `icc`; of two teeth of one patient by two thirds of it.
    """
    whole = np.zeros((practices, where.n_canals))
    for share, code in (
        (2 * icc / 3, where.patient), (icc / 3, where.tooth),
        (1 - icc, np.arange(where.n_canals)),
    ):  # fmt: skip
        if share:
            size = int(code[-1]) + 1
            parts = noise(generator, practices * size, errors).reshape(practices, size)
            whole += np.sqrt(share) * parts[:, code]
    return whole
