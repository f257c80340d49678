"""A seeded bank of invented identifiers in plausible columns, and of columns that hold none.

Numbers come from ranges that are never issued where the scheme has such a range; names are
put together from common given names and family names at random.
"""

import uuid
from dataclasses import dataclass, field

import numpy as np

GIVEN = [
    "Anna",
    "Peter",
    "Maria",
    "John",
    "Susan",
    "Karl",
    "Ines",
    "Paolo",
    "Femke",
    "Lars",
    "Chloe",
    "Omar",
    "Priya",
    "Wei",
    "Tom",
]
FAMILY = [
    "Miller",
    "Schmidt",
    "Rossi",
    "Dubois",
    "Garcia",
    "Jansen",
    "Olsen",
    "Novak",
    "Khan",
    "Chen",
    "Walker",
    "Brown",
    "Weber",
]


@dataclass(frozen=True, slots=True)
class BankColumn:
    """One column: its class ('' for none), header, values, and whether it is read as a key.

    `n_identifiers` counts the values that identify; the others of the column are codes.
    """

    kind: str
    header: str
    values: list[str] = field(repr=False)
    is_key: bool = False
    n_identifiers: int = 0


class _Maker:
    def __init__(self, seed: int) -> None:
        self.generator = np.random.default_rng(seed)

    def digits(self, count: int) -> str:
        return "".join(map(str, self.generator.integers(0, 10, count)))

    def pick(self, words: list[str]) -> str:
        return words[int(self.generator.integers(len(words)))]

    def day(self) -> tuple[int, int, int]:
        year, month, day = self.generator.integers([1930, 1, 1], [2012, 13, 29])
        return int(year), int(month), int(day)

    def until(self, test, make) -> str:
        while not test(value := make()):
            pass
        return value

    def luhn(self, prefix: str, length: int) -> str:
        from stdnum import luhn

        body = prefix + self.digits(length - len(prefix) - 1)
        return body + luhn.calc_check_digit(body)

    def scheme(self, name: str, make) -> str:
        from importlib import import_module

        return self.until(import_module(f"stdnum.{name}").is_valid, make)


def _identifiers(make: _Maker) -> list[tuple[str, str, bool, object]]:
    """Return (class, header, read as key, maker of one value)."""

    def name(form: str) -> str:
        return form.format(g=make.pick(GIVEN), f=make.pick(FAMILY))

    def born(form: str) -> str:
        year, month, day = make.day()
        return form.format(y=year, m=month, d=day, s=year % 100)

    word = "name", "address or place", "phone or fax", "e-mail", "web address", "IP address"
    names, address, phone, email, url, ip = word
    birth, date = "date of birth", "full date outside a declared date field"
    national, record, card = (
        "national or insurance number",
        "record number",
        "payment card or account",
    )
    device, image, initials = "device serial number", "image file name", "initials"
    return [
        (names, "ref", False, lambda: name("{g} {f}")),
        (names, "who", False, lambda: name("{f}, {g}")),
        (names, "operator", True, lambda: name("Dr {f}")),
        (names, "patient_id", True, lambda: name("{g}.{f}")),
        (names, "patient_id", True, lambda: make.pick(FAMILY)),
        (names, "Patient name", False, lambda: make.pick(GIVEN).lower()),
        (names, "Nachname", False, lambda: make.pick(FAMILY).upper()),
        (address, "place", False, lambda: f"{make.digits(2)} {make.pick(FAMILY)} Street"),
        (address, "where", False, lambda: f"{make.pick(FAMILY)}strasse {make.digits(2)}"),
        (address, "Postcode", False, lambda: f"ZZ{make.digits(1)} {make.digits(1)}ZZ"),
        (address, "Wohnort", False, lambda: make.pick(FAMILY) + "dorf"),
        (phone, "contact", False, lambda: f"+44 7700 900{make.digits(3)}"),
        (phone, "patient_id", True, lambda: f"(555) 555-01{make.digits(2)}"),
        (phone, "Telefon", False, lambda: "0" + make.digits(9)),
        (phone, "reach", False, lambda: f"030 {make.digits(7)}"),
        (email, "contact", False, lambda: name("{g}.{f}@example.org").lower()),
        (email, "patient_id", True, lambda: f"p{make.digits(4)}@example.com"),
        (url, "link", False, lambda: f"https://example.org/p/{make.digits(6)}"),
        (url, "viewer", False, lambda: f"www.example.com/{make.digits(5)}"),
        (ip, "from", False, lambda: f"192.0.2.{int(make.generator.integers(256))}"),
        (ip, "station", False, lambda: f"2001:db8::{make.digits(4)}"),
        (birth, "DOB", False, lambda: born("{y}")),
        (birth, "Geburtsdatum", False, lambda: born("{d:02d}.{m:02d}.{y}")),
        (birth, "patient_id", True, lambda: born("{y}{m:02d}{d:02d}")),
        (date, "x", False, lambda: born("{y}-{m:02d}-{d:02d}")),
        (date, "seen", False, lambda: born("{d}/{m}/{y}")),
        (date, "treatment_id", True, lambda: "T" + make.digits(2) + born("-{y}-{m:02d}-{d:02d}")),
        (national, "patient_id", True, lambda: make.scheme("gb.nhs", lambda: "999" + make.digits(7))),
        (national, "key", False, lambda: "{0[0]}{0[1]}{0[2]} {0[3]}{0[4]}{0[5]} {0[6]}{0[7]}{0[8]}{0[9]}".format(make.scheme("gb.nhs", lambda: "999" + make.digits(7)))),
        (national, "patient_id", True, lambda: f"987-65-432{make.digits(1)}"),
        (national, "SSN", False, lambda: "98765432" + make.digits(1)),
        (national, "key", False, lambda: make.luhn("0", 9)),
        (national, "patient_id", True, lambda: make.scheme("es.dni", lambda: make.digits(8) + "TRWAGMYFPDXBNJZSQVHLCKE"[int(make.generator.integers(23))])),
        (national, "patient_id", True, lambda: make.scheme("nl.bsn", lambda: "1" + make.digits(8))),
        (national, "patient_id", True, lambda: make.scheme("ch.ssn", lambda: "756" + make.digits(10))),
        (national, "patient_id", True, lambda: make.scheme("pl.pesel", lambda: born("{s:02d}{m:02d}{d:02d}") + make.digits(5))),
        (national, "key", False, lambda: make.scheme("no.fodselsnummer", lambda: born("{d:02d}{m:02d}{s:02d}") + make.digits(5))),
        (national, "patient_id", True, lambda: born("{d:02d}{m:02d}{s:02d}-") + make.digits(4)),
        (national, "patient_id", True, lambda: born("{d:02d}{m:02d}{s:02d}") + make.digits(4)),
        (record, "Chart no", True, lambda: make.digits(6)),
        (record, "patient_id", True, lambda: "MRN" + make.digits(6)),
        (record, "Patientennummer", True, lambda: make.digits(5)),
        (record, "patient_id", True, lambda: make.digits(5)),
        (record, "patient_id", True, lambda: str(20_000 + int(make.generator.integers(9_000)))),
        (record, "patient_id", True, lambda: make.digits(9)),
        (birth, "treatment_date", False, lambda: born("{y}-{m:02d}-{d:02d}")),
        (birth, "review_date", False, lambda: born("{y}-{m:02d}-{d:02d}")),
        (birth, "period", False, lambda: born("{y}-{m:02d}")),
        (address, "site_id", False, lambda: make.pick(FAMILY) + "ford"),
        (card, "paid", False, lambda: make.luhn("4", 16)),
        (card, "paid", False, lambda: " ".join(make.luhn("5555", 16)[at : at + 4] for at in range(0, 16, 4))),
        (card, "IBAN", False, lambda: "ZZ" + make.digits(20)),
        (device, "locator", False, lambda: "SN-" + make.digits(7)),
        (device, "Serial number", False, lambda: make.digits(8)),
        (image, "film", False, lambda: f"IMG_{make.digits(4)}.jpg"),
        (image, "scan", False, lambda: f"{make.digits(8)}.dcm"),
        (initials, "clinician_id", True, lambda: make.pick(list("ABCDKLM")) + make.pick(list("SRTW"))),
        (initials, "patient_id", True, lambda: make.pick(list("ABCDKLM")) + make.pick(list("SRTW")) + born("{y}")),
        ("free text", "extra", False, lambda: f"tooth was sore after {make.digits(1)} days"),
        ("free text", "Remarks", False, lambda: make.pick(["sore", "fine", "call back"])),
    ]  # fmt: skip


def identifier_columns(*, rows: int = 50, seed: int = 3, lone: int = 5) -> list[BankColumn]:
    """Return columns of direct identifiers and free text, `rows` values each.

    Beside columns that are full of them, `lone` columns of each kind hold one among codes.
    """
    make = _Maker(seed)
    whole = [
        BankColumn(kind, header, [value() for _ in range(rows)], is_key, rows)
        for kind, header, is_key, value in _identifiers(make)
    ]
    return whole + _lone_identifiers(make, rows, lone)


def _lone_identifiers(make: _Maker, rows: int, lone: int) -> list[BankColumn]:
    """Return key columns of codes, each with one person or place among them."""
    name, place, initials = "name", "address or place", "initials"
    forms = [
        (name, "clinician_id", lambda at: f"C{at % 7:02d}", lambda: make.pick(FAMILY)),
        (name, "clinician_id", lambda at: f"C{at % 7:02d}", lambda: make.pick(FAMILY).lower()),
        (name, "patient_id", lambda at: f"P{at:05d}", lambda: make.pick(FAMILY).upper()),
        (name, "patient_id", lambda at: f"P{at:05d}", lambda: f"{make.pick(GIVEN)} {make.pick(FAMILY)}"),
        (name, "patient_id", lambda at: f"PX-{make.digits(4)}", lambda: f"{make.pick(FAMILY)}, {make.pick(GIVEN)}"),
        (name, "patient_id", lambda at: str(100 + at), lambda: f"{make.pick(GIVEN)[0]}. {make.pick(FAMILY)}"),
        (name, "observer_id", lambda at: "assistant" if at % 2 else f"A{at % 9}{at % 4}", lambda: make.pick(FAMILY)),
        (name, "reader_id", lambda at: f"R{at % 5}", lambda: f"{make.pick(GIVEN)}_{make.pick(FAMILY)}".lower()),
        (initials, "clinician_id", lambda at: f"C{at % 7:02d}", lambda: make.pick(list("ABCDKLM")) + make.pick(list("SRTW"))),
        (initials, "reader_id", lambda at: f"R{at % 5}", lambda: f"{make.pick(list('ABCDKLM'))}.{make.pick(list('SRTW'))}."),
        (place, "site_id", lambda at: f"S{at % 3}", lambda: make.pick(FAMILY) + "ton"),
        (place, "site_id", lambda at: "main", lambda: f"{make.pick(FAMILY)}ville clinic"),
        (place, "site_id", lambda at: f"site {at % 3}", lambda: f"{make.pick(FAMILY)}burg2"),
    ]  # fmt: skip
    columns = []
    for kind, header, code, odd in forms:
        for _ in range(lone):
            values = [code(at) for at in range(rows)]
            values[int(make.generator.integers(rows))] = odd()
            columns.append(BankColumn(kind, header, values, header != "site_id", 1))
    return columns


def clean_columns(*, rows: int = 50, seed: int = 4) -> list[BankColumn]:
    """Return columns that hold no identifier, many of them with awkward shapes."""
    make = _Maker(seed)

    def number(low: float, high: float, digits: int = 1) -> str:
        return f"{make.generator.uniform(low, high):.{digits}f}"

    def hexadecimal(length: int) -> str:
        return make.generator.bytes(32).hex()[:length]

    def alphanumeric(length: int) -> str:
        return "".join(
            make.pick(list("ABCDEFGHJKLMNPQRSTUVWXYZ23456789")) for _ in range(length)
        )

    forms = [
        ("patient_id", True, lambda: "P" + make.digits(5)),
        ("patient_id", True, lambda: str(1_000 + int(make.generator.integers(60)))),
        ("patient_id", True, lambda: "P" + make.digits(9)),
        ("patient_id", True, lambda: hexadecimal(16)),
        ("patient_id", True, lambda: str(uuid.UUID(bytes=make.generator.bytes(16)))),
        ("patient_id", True, lambda: "PX-" + hexadecimal(8).upper()),
        ("patient_id", True, lambda: "P00000" + make.digits(5)),
        ("patient_id", True, lambda: alphanumeric(8)),
        ("patient_id", True, lambda: "P" + hexadecimal(10)),
        ("treatment_date", False, lambda: f"{int(make.generator.integers(2018, 2027))}-03-{int(make.generator.integers(1, 29)):02d}"),
        ("period", False, lambda: f"{int(make.generator.integers(2018, 2027))}-Q2"),
        ("site_id", False, lambda: make.pick(["S1", "S2", "main", "north branch", "HQ"])),
        ("site_id", False, lambda: "S" + hexadecimal(10)),
        ("treatment_id", True, lambda: "T-2026-" + make.digits(4)),
        ("treatment_id", True, lambda: make.digits(7)),
        ("treatment_id", True, lambda: "202601-" + make.digits(4)),
        ("clinician_id", True, lambda: "C0" + make.digits(1)),
        ("observer_id", True, lambda: make.pick(["A", "B", "C"])),
        ("observer_id", True, lambda: make.pick(["assistant", "dentist", "A01"])),
        ("observer_id", True, lambda: make.pick(["R1", "R2", "R3", "locum", "dental nurse"])),
        ("tooth", False, lambda: str(make.generator.choice([11, 16, 26, 36, 47]))),
        ("universal", False, lambda: str(int(make.generator.integers(1, 33)))),
        ("length", False, lambda: number(15, 26)),
        ("length", False, lambda: number(15, 26).replace(".", ",")),
        ("offset", False, lambda: number(-3, 2)),
        ("year", False, lambda: str(int(make.generator.integers(2015, 2027)))),
        ("quarter", False, lambda: f"2026-Q{int(make.generator.integers(1, 5))}"),
        ("month", False, lambda: f"2026-{int(make.generator.integers(1, 13)):02d}"),
        ("canal", False, lambda: make.pick(["MB", "MB2", "DB", "P", "ML"])),
        ("material", False, lambda: make.pick(["Gutta percha", "Warm vertical", "Cold lateral"])),
        ("sealer", False, lambda: make.pick(["Resin", "Bioceramic", "Zinc oxide"])),
        ("pain", False, lambda: make.pick(["yes", "no", ""])),
        ("size", False, lambda: make.pick(["25/.04", "30/.06", "40/.04"])),
        ("age band", False, lambda: make.pick(["30-39", "40-49", "90+"])),
        ("time", False, lambda: make.pick(["08:30", "10:15", "16:45"])),
        ("canal name", False, lambda: make.pick(["mesial", "distal"])),
    ]  # fmt: skip
    return [
        BankColumn("", header, [value() for _ in range(rows)], is_key)
        for header, is_key, value in forms
    ]
