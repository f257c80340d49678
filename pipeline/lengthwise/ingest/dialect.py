"""How a file is written: separator, decimal mark, encoding and date order, always declared."""

import codecs
import csv
from dataclasses import dataclass

from lengthwise.errors import SettingsError

# A field of any length is read, so that it can be found; the reader's own limit is 128 kB.
csv.field_size_limit(1 << 30)
SEPARATORS = {",": ",", ";": ";", "tab": "\t", "\t": "\t", "|": "|"}
_ISO = "%Y-%m-%d"
# Year, month and day parted by - / or a point. A date written year first can be read in one way
# only, so it is read whatever the order; a workbook's own dates come so.
DATE_ORDERS = {
    "ymd": (_ISO, "%Y/%m/%d", "%Y.%m.%d"),
    "dmy": ("%d/%m/%Y", "%d.%m.%Y", "%d-%m-%Y", _ISO),
    "mdy": ("%m/%d/%Y", "%m.%d.%Y", "%m-%d-%Y", _ISO),
}


@dataclass(frozen=True, slots=True)
class Dialect:
    """The declared form of one file; the defaults are RFC 4180 with a decimal point."""

    separator: str = ","
    decimal: str = "."
    encoding: str = "utf-8"
    date_order: str = "ymd"


def dialect(
    separator: str = ",", decimal: str = ".", encoding: str = "utf-8", date_order: str = "ymd"
) -> Dialect:
    """Return a checked dialect; raise SettingsError on a value that is not offered."""
    for name, value in (("separator", separator), ("decimal", decimal), ("encoding", encoding),
                        ("date_order", date_order)):  # fmt: skip
        if not isinstance(value, str):
            raise SettingsError(f"{name}: expected a text in quotation marks")
    if separator not in SEPARATORS:
        raise SettingsError("separator: expected one of , ; | tab")
    if decimal not in (".", ","):
        raise SettingsError("decimal: expected a point or a comma")
    if date_order not in DATE_ORDERS:
        raise SettingsError("date_order: expected ymd, dmy or mdy")
    try:
        codec = codecs.lookup(encoding).name
        "".encode(codec)  # some codecs turn bytes into bytes
    except (LookupError, ValueError):
        raise SettingsError("encoding: not known; try utf-8, windows-1252, utf-16") from None
    if decimal == "," and separator == ",":
        raise SettingsError("decimal: separator and decimal mark cannot both be a comma")
    return Dialect(SEPARATORS[separator], decimal, codec, date_order)
