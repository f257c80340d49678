"""The methods of a practice in the order of the dictionary."""

import pandas as pd

from lengthwise.settings import Settings


def methods_used(pairs: pd.DataFrame, settings: Settings) -> tuple[str, ...]:
    """Return the methods that occur in marts.length_pairs; extensions are known as well."""
    from lengthwise.dictionary import extended

    used = set(pairs["method"].unique())
    known = extended("readings", settings.extensions).field("method").enum
    return tuple(name for name in known if name in used)
