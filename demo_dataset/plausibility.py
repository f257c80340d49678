"""Rows that are implausible beside the other rows of their canal; they stand at each file's end."""

from demo_dataset.sheets import Sheet

# Host treatments: tooth, and the confirmed length of each canal.
HOSTS = {
    "swapped": ("26", {"MB": "19.0", "P": "22.0"}),
    "apart": ("21", {"C": "22.0"}),
    "level": ("13", {"C": "26.0"}),
}
UNKNOWN = [
    "canal_state",
    "file_size_iso",
    "metal_contact",
    "circuit_checked",
    "electrode",
    "stable",
]


def plant(sheets: dict[str, Sheet], ids: list[str]) -> None:
    """Plant three hosts with plausible rows and the implausible ones beside them."""
    key = dict(zip(HOSTS, ids, strict=True))
    for number, (name, (tooth, lengths)) in enumerate(HOSTS.items(), start=31):
        sheets["treatments"].clean(
            treatment_id=key[name], patient_id=f"P9{number:04d}", tooth=tooth
        )
        for canal, length in lengths.items():
            sheets["canals"].clean(
                treatment_id=key[name], canal=canal, confirmed_length_mm=length
            )
            _read(sheets["readings"], key[name], canal, "electronic", length)
    _plant_readings(sheets["readings"], key)
    level = {"treatment_id": key["level"], "canal": "C"}
    sheets["fills"].warning(
        "fill_offset_mm", "level_does_not_fit_lengths", "decimal point moved: 0.7 mm short",
        **level, fill_offset_mm="-7.0",
    )  # fmt: skip
    sheets["fills"].clean(treatment_id=key["apart"], canal="C", fill_offset_mm="-0.5")


def _read(sheet: Sheet, treatment: str, canal: str, method: str, length: str) -> None:
    """Plant a plausible reading; only electronic readings have conditions."""
    other = {} if method == "electronic" else dict.fromkeys(UNKNOWN, "")
    sheet.clean(
        treatment_id=treatment, canal=canal, method=method, length_mm=length, **other
    )  # fmt: skip


def _plant_readings(sheet: Sheet, key: dict[str, str]) -> None:
    blank = dict.fromkeys(UNKNOWN, "")
    for name, canal, length in (
        ("swapped", "MB", "19.5"), ("swapped", "P", "22.0"), ("apart", "C", "22.5"),
        ("level", "C", "26.5"),
    ):  # fmt: skip
        _read(sheet, key[name], canal, "film_file", length)
    for canal, length in {"MB": "22.0", "P": "19.0"}.items():
        sheet.warning(
            "canal", "canals_swapped", "two canals entered the wrong way round; both rows",
            treatment_id=key["swapped"], canal=canal, method="trial_cone",
            stage="before_filling", length_mm=length, **blank,
        )  # fmt: skip
    apart = {"treatment_id": key["apart"], "canal": "C"}
    sheet.warning(
        "length_mm", "methods_far_apart", "25.0 for 22.0", **apart, method="paper_point",
        stage="before_filling", length_mm="25.0", **blank,
    )  # fmt: skip
    sheet.error(
        {"length_mm": "out_of_range"}, "decimal point moved", **apart, method="trial_cone",
        stage="before_filling", length_mm="2.25", **blank,
    )  # fmt: skip
