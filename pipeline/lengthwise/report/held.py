"""How often 95% intervals held a known truth in simulation, in the words that stand beside them.

The numbers come from `python -m tests.coverage`; `tests/coverage/test_stated.py` holds them
against its tables, cell by cell, so that neither moves alone.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Held:
    """The lowest and highest times in 100 of a topic.

    Attributes
    ----------
    fewest : int
        Patients of the smallest practice tried.
    patients : int
        From so many patients on the range `many` holds, below it `few`.
    many, few : tuple of int
        Times in 100.
    """

    fewest: int
    patients: int
    many: tuple[int, int]
    few: tuple[int, int]

    def __str__(self) -> str:
        """Return the sentence."""
        low, high = self.many
        below, above = self.few
        return (
            f"In simulated practices these 95% intervals held the truth {low} to {high} times "
            f"in 100; with {self.fewest} to {self.patients - 1} patients {below} to {above} "
            "times."
        )


REPEATS = Held(10, 50, (91, 96), (86, 95))
OWN_ERRORS = Held(20, 50, (93, 98), (91, 98))
LINES = Held(20, 50, (92, 97), (93, 97))
PAIRED_SHARES = Held(20, 50, (93, 96), (93, 96))
CONDITIONS = Held(30, 60, (91, 98), (90, 97))
COEFFICIENTS = Held(20, 50, (92, 97), (90, 97))
READERS_HELD = Held(15, 30, (92, 98), (86, 98))
DOSE = Held(100, 200, (91, 99), (94, 96))
FOLLOW_UP = Held(50, 200, (94, 98), (92, 97))
CRUDE = Held(50, 200, (93, 98), (94, 99))
INDEX = Held(50, 100, (93, 96), (95, 97))
REVIEW = Held(50, 100, (92, 97), (92, 97))
YEARLY = Held(50, 100, (93, 97), (91, 96))
HEALING = Held(50, 100, (88, 95), (89, 96))
# The most, in 100, that a share healed by a month was too low on average in a practice tried.
HEALING_LOW_BY = 5
