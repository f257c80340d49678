"""How small a count may be shown to whom."""

from dataclasses import dataclass
from typing import Any

INTERNAL, SHARED = "internal", "shared"
DEFAULTS = {"internal_minimum": 5, "shared_minimum": 10, "rounding_base": 5}


@dataclass(frozen=True, slots=True)
class Profile:
    """One audience's rules.

    Attributes
    ----------
    name : str
    minimum_count : int
        Counts from 1 up to one less than this are hidden.
    base : int
        Shown counts are rounded to a multiple of this; 1 leaves them as they are.
    hides_nought : bool
        Whether a count of 0, and with it a share of 0 or of 100 in 100, is hidden too: it
        says of every single case what it says of the group.
    """

    name: str
    minimum_count: int
    base: int
    hides_nought: bool

    @property
    def half_base(self) -> int:
        return self.base // 2

    @property
    def width(self) -> int:
        """Return how far apart the ends of what can be worked out must at least lie."""
        return self.minimum_count - 1

    def rounded(self, count: float) -> int:
        """Return the multiple of the base next to the count; halves go up."""
        return self.base * int((count + self.base / 2) // self.base)

    def is_small(self, count: float) -> bool:
        """Return whether the count itself must be hidden."""
        return 0 < count < self.minimum_count or (count == 0 and self.hides_nought)


def profile_of(run_data: Any, name: str) -> Profile:
    """Return the profile with what the run's settings say of it."""
    found = {
        key: int(run_data.setting("disclosure", key, default=value))
        for key, value in DEFAULTS.items()
    }
    if name == INTERNAL:
        return Profile(INTERNAL, found["internal_minimum"], 1, hides_nought=False)
    if name == SHARED:
        return Profile(SHARED, found["shared_minimum"], found["rounding_base"], True)
    raise ValueError(f"profile must be internal or shared, got {name}")
