"""Invented files to mutate. Every code and every number in them carries one mark, MARK.

No message, log line or finding may hold the mark: it only ever stands in a row.
"""

import csv
import io
from dataclasses import dataclass

import own_sheets

MARK = "73194"
_TREATED = range(1, 13)
_TEETH = (16, 11, 36, 24, 46, 21, 14, 37, 26, 45, 31, 17)
_CANALS = ("MB", "P", "D")


@dataclass(frozen=True, slots=True)
class BaseFile:
    """One file before its mutation: its table, how it is written, and its mapping, if any."""

    name: str
    header: list[str]
    rows: list[list[str]]
    separator: str = ","
    decimal: str = "."
    encoding: str = "utf-8"
    mapping: str = ""
    lines_above: str = ""

    def text(self) -> str:
        """Return the file as text."""
        out = io.StringIO()
        writer = csv.writer(out, delimiter=self.separator, lineterminator="\n")
        writer.writerow(self.header)
        writer.writerows(self.rows)
        return self.lines_above + out.getvalue()


def _treatment(number: int) -> str:
    return f"T{MARK}{number:02d}"


def _length(number: int, extra: int = 0) -> str:
    return f"{18 + (number * 7 + extra * 5) % 8}.{(number + extra) % 10}{MARK}"


def _canals(number: int) -> tuple[str, ...]:
    return _CANALS[: 1 + number % 3]


def tidy_files() -> dict[str, BaseFile]:
    """Return the six exports, whose rows belong together."""
    each = [(number, canal) for number in _TREATED for canal in _canals(number)]
    tables: dict[str, tuple[str, list[list[str]]]] = {
        "treatments": (
            "treatment_id,patient_id,clinician_id,tooth,period,isolation,preop_pai,preop_lesion_mm",
            [
                [_treatment(n), f"P{MARK}{n:02d}", f"C{MARK}{n % 3}", str(_TEETH[n - 1]),
                 f"2026-{n:02d}", "yes" if n % 2 else "no", str(1 + n % 5), f"{n % 6}.{MARK}"]
                for n in _TREATED
            ],
        ),
        "canals": (
            "treatment_id,canal,apical_size_iso,confirmed_length_mm",
            [[_treatment(n), canal, "30", _length(n)] for n, canal in each],
        ),
        "readings": (
            "treatment_id,canal,method,length_mm,stable,observer_id",
            [
                [_treatment(n), canal, method, _length(n, at), "yes", f"C{MARK}{n % 3}"]
                for n, canal in each
                for at, method in enumerate(("electronic", "film_file"))
            ],
        ),
        "fills": (
            "treatment_id,canal,fill_offset_mm,core_beyond,film_quality,reader_id",
            [
                [_treatment(n), canal, f"{-1 if n % 4 else 0}.{MARK}", "no", "A", f"C{MARK}{n % 3}"]
                for n, canal in each
            ],
        ),
        "follow_ups": (
            "treatment_id,days_from_treatment,imaging,pai,pain,tooth_present",
            [[_treatment(n), str(360 + n), "film", str(1 + n % 5), "no", "yes"] for n in _TREATED],
        ),
        "incidents": (
            "treatment_id,canal,kind,days_from_treatment",
            [[_treatment(n), _canals(n)[0], "perforation", str(n)] for n in (2, 5, 8)],
        ),
    }  # fmt: skip
    return {
        name: BaseFile(f"{name}.csv", header.split(","), rows)
        for name, (header, rows) in tables.items()
    }


_WIDE_HEADER = (
    "Case,Patient code,Op,Tooth,Month,Dam,MB EAL,MB film,P EAL,ML film,D EAL,D film,"
    "MB WL,P WL,ML WL,D WL,MB fill,P fill,ML fill,D fill,Memo"
)


def _wide_per_tooth() -> BaseFile:
    rows = []
    for n in _TREATED:
        lengths = [_length(n, at).replace(".", ",") for at in range(10)]
        levels = [f"{at % 2},{MARK}" for at in range(4)]
        rows.append(
            [_treatment(n), f"P{MARK}{n:02d}", f"C{MARK}{n % 3}", f"UR{1 + n % 8}",
             f"2026-{n:02d}", "y" if n % 2 else "n", *lengths, *levels, f"remark {MARK}"]
        )  # fmt: skip
    name, _, mapping = own_sheets.SHAPES["wide per tooth"]
    return BaseFile(
        name, _WIDE_HEADER.split(","), rows, separator=";", decimal=",", mapping=mapping,
        lines_above="Root canal list;;;\n",
    )  # fmt: skip


def _wide_per_canal() -> BaseFile:
    words = {"MB": "mb", "P": "pal", "D": "d"}
    rows = [
        [_treatment(n), f"P{MARK}{n:02d}", f"C{MARK}{n % 3}", str(n), f"{n:02d}/09/2026",
         str(n % 2), words[canal], _length(n), _length(n, 1), _length(n, 2), f"-0.{MARK}"]
        for n in _TREATED
        for canal in _canals(n)
    ]  # fmt: skip
    name, _, mapping = own_sheets.SHAPES["wide per canal"]
    header = "case,pt,provider,tooth #,date,rubber dam,canal,eal,pa,wl,fill vs wl"
    return BaseFile(name, header.split(","), rows, mapping=mapping)


def _long() -> BaseFile:
    words = {"electronic": "elektrisch", "film_file": "Röntgen"}
    rows = [
        [_treatment(n), f"P{MARK}{n:02d}", f"C{MARK}{n % 3}", str(_TEETH[n - 1]),
         f"2026-{n:02d}", "ja", canal, words[method], f"2,0{MARK}", f"2,1{MARK}", f"-0,0{MARK}"]
        for n in _TREATED
        for canal in _canals(n)
        for method in words
    ]  # fmt: skip
    name, _, mapping = own_sheets.SHAPES["long, other language"]
    header = "Fall;Pat;Beh;Zahn;Monat;Kofferdam;Kanal;Messart;Länge;AL;WF"
    return BaseFile(
        name, header.split(";"), rows, separator=";", decimal=",", encoding="cp1252",
        mapping=mapping,
    )  # fmt: skip


def own_files() -> dict[str, BaseFile]:
    """Return three practices' own sheets with their mappings."""
    return {
        "wide per tooth": _wide_per_tooth(),
        "wide per canal": _wide_per_canal(),
        "long, other language": _long(),
    }
