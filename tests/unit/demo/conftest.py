"""The committed demo dataset, read once."""

import tomllib

import numpy as np
import pandas as pd
import pytest
from exports_on_disk import DEMO, KEYS, listed, raw_lines

from folders import demo_fields
from lengthwise.dictionary import EXPORTS, schema


@pytest.fixture(scope="session")
def clean() -> dict[str, pd.DataFrame]:
    """Return the exports without the planted rows, missing codes as blanks."""
    frames = {}
    for name in EXPORTS:
        planted = {int(item["row"]) for item in listed() if item["file"] == f"{name}.csv"}
        header = (DEMO / "exports" / f"{name}.csv").read_text(encoding="utf-8").split("\n")[0]
        rows = [
            line.split(",")
            for number, line in enumerate(raw_lines(name), start=1)
            if number not in planted
        ]
        frame = pd.DataFrame(rows, columns=header.split(","), dtype=object)
        frame = frame.mask(frame.isin(list(schema(name).missing)))
        numbers = [f.name for f in demo_fields(name) if f.type in ("integer", "number")]
        frame[numbers] = frame[numbers].astype(float)
        frames[name] = frame
    return frames


@pytest.fixture(scope="session")
def truth() -> dict:
    return tomllib.loads((DEMO / "truth.toml").read_text(encoding="utf-8"))


@pytest.fixture(scope="session")
def differences(clean) -> pd.DataFrame:
    lengths = clean["canals"][[*KEYS, "confirmed_length_mm", "apical_size_iso"]]
    frame = clean["readings"].merge(lengths, on=KEYS)
    frame["difference_mm"] = frame["length_mm"] - frame["confirmed_length_mm"]
    return frame.dropna(subset=["difference_mm"])


@pytest.fixture(scope="session")
def records(clean) -> pd.DataFrame:
    """Return the reading of record of each filling with its treatment."""
    fills = clean["fills"]
    fills = fills[(fills["read"] == 1) & (fills["reader_id"] != "R2")]
    fills = fills.dropna(subset=["fill_offset_mm"]).merge(
        clean["treatments"], on="treatment_id"
    )
    offset = fills["fill_offset_mm"]
    return fills.assign(
        level=np.select([offset > 0, offset < -2], ["beyond", "short"], "within")
    )
