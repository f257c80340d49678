"""Keys as codes instead of text: the same labels, compared and grouped as numbers."""

from collections.abc import Mapping

import pandas as pd
from pandas.api.types import CategoricalDtype

_KEYS = ("treatment_id", "canal")


def with_codes(frames: Mapping[str, pd.DataFrame]) -> dict[str, pd.DataFrame]:
    """Return the frames with patients as numbers and canal keys as categories.

    A patient's number is the same in every frame and is shown nowhere: it only says which
    rows belong together. Keys of canals keep their text, and share one set of categories, so
    that frames still join on them.
    """
    patients = pd.Index(_values(frames, "patient_id"))
    kinds = {key: CategoricalDtype(sorted(_values(frames, key))) for key in _KEYS}
    return {name: _coded(frame, patients, kinds) for name, frame in frames.items()}


def _values(frames: Mapping[str, pd.DataFrame], column: str) -> list[str]:
    found = [frame[column] for frame in frames.values() if column in frame]
    return list(pd.concat(found).dropna().unique()) if found else []


def _coded(
    frame: pd.DataFrame, patients: pd.Index, kinds: Mapping[str, CategoricalDtype]
) -> pd.DataFrame:
    columns: dict[str, pd.Series] = {
        key: frame[key].astype(kind) for key, kind in kinds.items() if key in frame
    }
    if "patient_id" in frame:
        columns["patient_id"] = pd.Series(
            patients.get_indexer(frame["patient_id"]), index=frame.index
        )
    return frame.assign(**columns)
