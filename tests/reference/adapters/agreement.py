"""Cases of the agreement of length methods and of readers."""

from reference.adapters import (
    agreement_bias,
    agreement_extremes,
    agreement_limits,
    agreement_readers,
)

METHODS: dict = {
    **agreement_limits.METHODS,
    **agreement_bias.METHODS,
    **agreement_readers.METHODS,
    **agreement_extremes.METHODS,
}
