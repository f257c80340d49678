"""Agreement of any two columns of any CSV file: the ad-hoc tool for one question."""

import csv
import json
import math
from argparse import Namespace
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

from lengthwise.compare_measures import (
    Columns,
    coefficients_of,
    growth_of,
    limits_of,
    repeats_of,
    share_of,
)
from lengthwise.errors import SettingsError, UnreadableError
from lengthwise.ingest.dialect import dialect

WIDTH = 27
FIGURE_FORMS = (".png", ".svg", ".pdf")
SHOWN = (
    "bias", "sd", "lower_limit", "upper_limit", "share_within", "within_sd_method",
    "repeatability_method", "within_sd_reference", "repeatability_reference", "slope_on_mean",
    "error_variance_ratio", "deming_slope", "deming_intercept", "passing_bablok_slope",
    "passing_bablok_intercept", "concordance", "icc_a_1", "deviation_index_90",
    "equivalence_bias_90", "equivalence_p_value",
)  # fmt: skip
LABELS = {
    "sd": "SD",
    "within_sd_method": "SD of repeats, method",
    "within_sd_reference": "SD of repeats, reference",
    "slope_on_mean": "slope on the mean",
    "icc_a_1": "ICC(A,1)",
    "deviation_index_90": "90 in 100 differ by under",
    "equivalence_bias_90": "bias, 90% interval",
    "equivalence_p_value": "equivalence, p",
}


def _columns(arguments: Namespace) -> dict[str, list[str]]:
    names = ("separator", "decimal", "encoding")
    form = dialect(
        **{name: getattr(arguments, name) for name in names if getattr(arguments, name)}
    )
    path = Path(arguments.file)
    labels = filter(None, [arguments.cluster, arguments.replicate])
    wanted = [arguments.method, arguments.reference, *labels]
    encoding = "utf-8-sig" if form.encoding == "utf-8" else form.encoding
    try:
        with path.open(encoding=encoding, newline="") as handle:
            reader = csv.DictReader(handle, delimiter=form.separator)
            lacking = [name for name in wanted if name not in (reader.fieldnames or [])]
            if lacking:
                raise UnreadableError(
                    f"{path.name}: there is no column {', '.join(lacking)}; check the names and "
                    "the separator (--separator)"
                )
            rows = list(reader)
    except (OSError, UnicodeError):
        raise UnreadableError(
            f"{path.name}: the file cannot be read; check its name and --encoding"
        ) from None
    return {name: [row[name] or "" for row in rows] for name in wanted}


def _numbers(values: list[str], column: str, decimal: str, file: str) -> np.ndarray:
    found = np.full(len(values), np.nan)
    for at, text in enumerate(values):
        plain = text.strip().replace(decimal, ".") if decimal != "." else text.strip()
        if plain in ("", "NA", "NaN", "not_recorded", "not_applicable", "unreadable"):
            continue
        try:
            found[at] = float(plain)
        except ValueError:
            raise UnreadableError(
                f"{file}, row {at + 1}, column {column}: expected a number; correct it, or give "
                "the decimal mark with --decimal"
            ) from None
    return found


def compare_columns(arguments: Namespace) -> dict[str, Any]:
    """Return bias, limits, shares, growth with length and coefficients of two columns.

    Limits are exact for independent pairs. With a cluster column they come from variance
    components, intervals by leaving patients out; with a replicate column alone, from repeated readings.
    Rows with a missing value or label are set aside and counted.
    """
    _check(arguments)
    texts = _columns(arguments)
    columns = _as_columns(arguments, texts)
    result: dict[str, Any] = {
        "file": Path(arguments.file).name, "method": arguments.method,
        "reference": arguments.reference, "cluster": arguments.cluster,
        "replicate": arguments.replicate, "coverage": arguments.coverage,
    }  # fmt: skip
    unit = columns.unit_of_independence
    if unit is not None:
        result["clusters"] = len(np.unique(unit))
    found = limits_of(columns, arguments.coverage, arguments.multiplier)
    if arguments.tolerance:
        found["share_within"], numerator = share_of(columns, arguments.tolerance)
    found |= repeats_of(columns) | growth_of(columns)
    found |= coefficients_of(columns, arguments.tolerance)
    result |= {name: asdict(value) for name, value in found.items()}
    if arguments.tolerance:
        result["share_within"] |= {"numerator": numerator, "tolerance": arguments.tolerance}
    _write(arguments, result, columns.method, columns.reference)
    return result


def _check(arguments: Namespace) -> None:
    """Raise SettingsError for a number or a file name that no comparison can use."""
    asked: tuple[tuple[str, float | None, float], ...] = (
        ("--tolerance", arguments.tolerance, math.inf),
        ("--coverage", arguments.coverage, 1.0),
        ("--multiplier", arguments.multiplier, math.inf),
    )
    for name, value, below in asked:
        if value is not None and not 0 < value < below:
            bounds = "above 0" if below == math.inf else "between 0 and 1, such as 0.95"
            raise SettingsError(f"{name} must be {bounds}; give another number")
    for name in ("json", "figure"):
        target = getattr(arguments, name)
        if target and not Path(target).parent.is_dir():
            raise SettingsError(
                f"--{name}: the folder of that file does not exist; make it first"
            )
    if arguments.figure and Path(arguments.figure).suffix.lower() not in FIGURE_FORMS:
        raise SettingsError(f"--figure must end in {', '.join(FIGURE_FORMS)}; rename the file")


def _as_columns(arguments: Namespace, texts: dict[str, list[str]]) -> Columns:
    decimal, file = arguments.decimal or ".", Path(arguments.file).name
    method, reference = (
        _numbers(texts[name], name, decimal, file)
        for name in (arguments.method, arguments.reference)
    )
    labels = [
        np.asarray(texts[name]) if name else None
        for name in (arguments.cluster, arguments.replicate)
    ]
    for label in labels:
        if label is not None:
            # A row without a patient cannot be placed; blanks are not one patient.
            blank = np.char.strip(label.astype(str)) == ""
            method, reference = (np.where(blank, np.nan, one) for one in (method, reference))
    return Columns(
        method, reference, labels[0], labels[1],
        is_true_value_constant=arguments.true_value == "constant",
    )  # fmt: skip


def _write(
    arguments: Namespace, result: dict[str, Any], method: np.ndarray, reference: np.ndarray
) -> None:
    if arguments.json:
        text = json.dumps(_without_nan(result), indent=2, ensure_ascii=False)
        Path(arguments.json).write_text(text + "\n", encoding="utf-8")
    if arguments.figure:
        from lengthwise.report.figures.comparison import comparison_figure

        comparison_figure(result, method, reference, arguments.tolerance).save(
            arguments.figure, width=7, height=4.5, dpi=150, verbose=False
        )


def _without_nan(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _without_nan(item) for key, item in value.items()}
    return None if isinstance(value, float) and not math.isfinite(value) else value


def printed(result: dict[str, Any]) -> str:
    """Return the result as a plain table; a note stands once, under the first it belongs to."""
    lines = [f"{result['method']} minus {result['reference']} ({result['file']})"]
    said: set[str] = set()
    for name in SHOWN:
        if name in result:
            item = result[name]
            lines.append(_line_of(name, item))
            if item["valid"] and item["reason"] and item["reason"] not in said:
                said.add(item["reason"])
                lines.append(f"{'':{WIDTH + 3}}note: {item['reason']}")
    used, missing = result["bias"]["n_used"], result["bias"]["n_missing"]
    what = "readings" if result["replicate"] and not result["cluster"] else "pairs"
    lines.append(f"  {what:{WIDTH}} {used} used, {missing} set aside for a missing value")
    return "\n".join(lines)


def _line_of(name: str, item: dict[str, Any]) -> str:
    label = LABELS.get(name, name.replace("_", " "))
    if not item["valid"]:
        return f"  {label:{WIDTH}} not given: {item['reason']}"
    ends = [
        f"{item[end]:.4f}" if math.isfinite(item[end]) else "" for end in ("lower", "upper")
    ]
    bounds = f"  ({ends[0]} to {ends[1]})" if all(ends) else ""
    if not bounds and any(ends):
        bounds = f"  (at {'most' if ends[1] else 'least'} {ends[1] or ends[0]})"
    is_tiny = name.endswith("p_value") and item["estimate"] < 0.0001
    value = "under 0.0001" if is_tiny else f"{item['estimate']:.4f}"
    return f"  {label:{WIDTH}} {value}{bounds}  [{item['method']}]"
