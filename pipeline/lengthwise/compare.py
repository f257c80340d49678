"""Agreement of any two columns of any CSV file: the ad-hoc tool for one question."""

import csv
import json
import math
from argparse import Namespace
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

from lengthwise.errors import UnreadableError
from lengthwise.ingest.dialect import dialect
from lengthwise.statistics.agreement.clustered_limits import clustered_limits
from lengthwise.statistics.agreement.limits import limits_of_agreement
from lengthwise.statistics.proportions import clustered_proportion_of_rows, proportion
from lengthwise.statistics.results import Estimate


def _columns(arguments: Namespace) -> dict[str, list[str]]:
    names = ("separator", "decimal", "encoding")
    form = dialect(
        **{name: getattr(arguments, name) for name in names if getattr(arguments, name)}
    )
    path = Path(arguments.file)
    wanted = [arguments.method, arguments.reference, *filter(None, [arguments.cluster])]
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
    """Return bias, limits and shares of two columns, each with its interval and method.

    Limits are exact for independent pairs; with a cluster column they come from variance
    components, intervals by MOVER. Rows with a missing value are set aside and counted.
    """
    columns = _columns(arguments)
    decimal, file = arguments.decimal or ".", Path(arguments.file).name
    method = _numbers(columns[arguments.method], arguments.method, decimal, file)
    reference = _numbers(columns[arguments.reference], arguments.reference, decimal, file)
    result: dict[str, Any] = {
        "file": file, "method": arguments.method, "reference": arguments.reference,
        "cluster": arguments.cluster, "coverage": arguments.coverage,
    }  # fmt: skip
    patient = None
    if arguments.cluster:
        patient = np.asarray(columns[arguments.cluster])
        clustered = clustered_limits(
            method, reference, patient=patient, coverage=arguments.coverage
        )
        sd = clustered.standard_deviation
        parts: Any = clustered
        result["clusters"] = clustered.n_patients
    else:
        parts = limits_of_agreement(method, reference, coverage=arguments.coverage)
        bias = parts.bias
        sd = Estimate(
            parts.standard_deviation, math.nan, math.nan, bias.level, bias.n_used,
            bias.n_missing, "divisor n - 1",
        )  # fmt: skip
    result |= {
        "bias": asdict(parts.bias), "sd": asdict(sd),
        "lower_limit": asdict(parts.lower), "upper_limit": asdict(parts.upper),
    }  # fmt: skip
    if arguments.tolerance:
        result["share_within"] = _share(method - reference, patient, arguments.tolerance)
    _write(arguments, result, method, reference)
    return result


def _share(
    difference: np.ndarray, patient: np.ndarray | None, tolerance: float
) -> dict[str, Any]:
    known = np.isfinite(difference)
    inside = np.round(np.abs(difference[known]), 2) <= tolerance + 1e-9
    if patient is None:
        value = proportion(int(inside.sum()), len(inside), n_missing=int((~known).sum()))
    else:
        value = clustered_proportion_of_rows(inside, patient[known]).wilson_icc
    return {**asdict(value), "numerator": int(inside.sum()), "tolerance": tolerance}


def _write(
    arguments: Namespace, result: dict[str, Any], method: np.ndarray, reference: np.ndarray
) -> None:
    if arguments.json:
        text = json.dumps(_without_nan(result), indent=2, ensure_ascii=False)
        Path(arguments.json).write_text(text + "\n", encoding="utf-8")
    if arguments.figure:
        from lengthwise.report.figures.comparison import comparison_figure

        comparison_figure(result, method, reference).save(
            arguments.figure, width=7, height=4.5, dpi=150, verbose=False
        )


def _without_nan(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _without_nan(item) for key, item in value.items()}
    return None if isinstance(value, float) and not math.isfinite(value) else value


def printed(result: dict[str, Any]) -> str:
    """Return the result as a plain table."""
    lines = [f"{result['method']} minus {result['reference']} ({result['file']})"]
    for name in ("bias", "sd", "lower_limit", "upper_limit", "share_within"):
        if name not in result:
            continue
        item = result[name]
        label = name.replace("_", " ")
        if not item["valid"]:
            lines.append(f"  {label:12} not given: {item['reason']}")
            continue
        bounds = (
            f"  ({item['lower']:.4f} to {item['upper']:.4f})"
            if math.isfinite(item["lower"])
            else ""
        )
        lines.append(f"  {label:12} {item['estimate']:.4f}{bounds}  [{item['method']}]")
        if item["reason"]:
            lines.append(f"{'':15}note: {item['reason']}")
    used, missing = result["bias"]["n_used"], result["bias"]["n_missing"]
    lines.append(f"  pairs        {used} used, {missing} set aside for a missing value")
    return "\n".join(lines)
