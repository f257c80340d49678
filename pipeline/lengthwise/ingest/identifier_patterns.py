"""Shapes of values that give away an identifier, as RE2 patterns for the database engine.

`TELLING` shapes are enough in one cell. `SHARED` shapes are weak in one cell and count only
when most of a column has them. The share of 80 % and the least of 5 (8 for check digits)
different values are our judgement: with 8 random numbers of which one in ten passes a check
digit, 7 or more pass with a chance below 1 in a million.
"""

from lengthwise.ingest.identifier_words import (
    ADDRESS,
    BIRTH,
    CARD,
    DEVICE,
    EMAIL,
    FULL_DATE,
    IMAGE,
    INITIALS,
    IP,
    NAME,
    NATIONAL,
    PHONE,
    RECORD,
    URL,
)

SHARE = 0.8
LEAST_VALUES = 5
LEAST_NUMBERS = 8

_YEAR, _MONTH, _DAY = r"(?:19|20)\d\d", r"(?:0?[1-9]|1[0-2])", r"(?:0?[1-9]|[12]\d|3[01])"
_MONTH_NAME = r"(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)"
_BYTE = r"(?:25[0-5]|2[0-4]\d|1?\d?\d)"
_DDMMYY = r"(?:0[1-9]|[12]\d|3[01])(?:0[1-9]|1[0-2])\d\d"
_YYMMDD = r"\d\d(?:0[1-9]|1[0-2])(?:0[1-9]|[12]\d|3[01])"
_CAPITAL = r"\p{Lu}[\p{Ll}'’-]+"
_TITLE = r"(?:Mr|Mrs|Ms|Miss|Dr|Prof|Herr|Frau|Mme|Sr|Sra|Sig|Mevr|Dhr)"
_STREET = (
    r"(?:street|road|lane|avenue|drive|close|court|square|terrace|strasse|straße|str\.|weg|"
    r"platz|rue|boulevard|calle|via|piazza|straat|laan)"
)

# Patterns are searched for, in this order; the first class that fits names the cell.
TELLING: dict[str, str] = {
    EMAIL: r"[A-Za-z0-9._%+-]+@[A-Za-z0-9-]+\.[A-Za-z]{2,}",
    URL: r"(?i)(?:https?://|ftp://|www\.)\S+",
    IMAGE: r"(?i)\.(?:dcm|dicom|jpe?g|png|tiff?|bmp|gif|heic|webp|raw|stl|ima)$",
    IP: rf"^(?:{_BYTE}\.){{3}}{_BYTE}$|^(?:[0-9A-Fa-f]{{1,4}}:){{3,7}}:?[0-9A-Fa-f]{{1,4}}$"
    r"|^[0-9A-Fa-f]{1,4}(?::[0-9A-Fa-f]{1,4})*::[0-9A-Fa-f:]+$",
    NATIONAL: r"^\d{3}-\d{2}-\d{4}$|^756\.\d{4}\.\d{4}\.\d{2}$|^\d{3} \d{3} \d{4}$"
    r"|^\d{2}\.\d{2}\.\d{2}-\d{3}[. ]\d{2}$|^[A-Z]{2} ?\d{2} ?\d{2} ?\d{2} ?[A-D]$"
    rf"|^[12] \d\d \d\d \d\d \d{{3}} \d{{3}} \d\d$|^{_DDMMYY}[-+A]\d{{3}}[0-9A-Y]$"
    rf"|^(?:{_DDMMYY}|{_YYMMDD})-?[ -]\d{{4}}$",
    CARD: r"^\d{4}[ -]\d{4}[ -]\d{4}[ -]\d{1,7}$|^3\d{3}[ -]\d{6}[ -]\d{5}$",
    FULL_DATE: rf"\b{_YEAR}[-./]{_MONTH}[-./]{_DAY}\b|\b{_DAY}[-./]{_MONTH}[-./]{_YEAR}\b"
    rf"|\b{_MONTH}[-./]{_DAY}[-./]{_YEAR}\b|^{_DAY}[./]{_MONTH}[./]\d\d$"
    rf"|(?i)\b{_DAY}(?:st|nd|rd|th)?\.? {_MONTH_NAME}[a-z]*\.? {_YEAR}\b",
    PHONE: r"^(?:\+|00)[1-9]\d{0,2}[ ./()-]+\d[\d ./()-]{5,}$|^\+[1-9]\d{8,14}$"
    r"|^\(?0\d{2,5}\)?[ /-]\d[\d -]{4,}$"
    r"|^\(?\d{3}\)?[ .-]\d{3}[.-]\d{4}$",
    DEVICE: r"(?i)^(?:sn|s/n|ser|serial|udi)(?:[ .:#-]+[a-z0-9-]*\d[a-z0-9-]{3,}|\d{4,}[a-z0-9-]*)$",
    RECORD: r"(?i)^(?:mrn|chart|hosp|file|rec|kartei|akte)[ .:#/-]*\d{3,}$",
    ADDRESS: rf"(?i)\b\d+[a-z]?,? .*\b{_STREET}|{_STREET} \d+|^\p{{L}}+{_STREET} \d+"
    r"|^[A-Z]{1,2}\d[A-Z\d]? \d[A-Z]{2}$",
    NAME: rf"^{_TITLE}\.? \p{{Lu}}|^{_CAPITAL}, {_CAPITAL}(?: |$)",
}
FREE_TEXT_PATTERN = r"\S+(?:\s+\S+){3,}"  # four words

SHARED: dict[str, str] = {
    NAME: rf"^{_CAPITAL}(?: \p{{Lu}}\.?)?(?:[ .,_]+{_CAPITAL})+$|^\p{{Lu}}\.? {_CAPITAL}$"
    rf"|^{_CAPITAL}[ ,_]+\p{{Lu}}\.?$",
    BIRTH: rf"^{_YEAR}(?:0[1-9]|1[0-2])(?:0[1-9]|[12]\d|3[01])$"
    rf"|^(?:0[1-9]|[12]\d|3[01])(?:0[1-9]|1[0-2]){_YEAR}$",
    NATIONAL: r"^(?:0[1-9]|[12]\d|3[01])(?:0[1-9]|1[0-2])\d{6}$",
    PHONE: r"^00?[1-9]\d{8,12}$",
}
# In a key column a word or two or three letters stand for a person, not for a code.
SHARED_IN_KEYS: dict[str, str] = {
    INITIALS: r"^\p{L}[. ]?\p{L}[. ]?(?:\p{L}\.?)?$|^\p{L}{2,3}(?:19|20)\d\d$",
    NAME: r"^\p{Lu}[\p{Ll}'’-]{2,}$|^\p{Lu}{4,}$|^\p{Ll}{4,}$|^\p{L}[._]?\p{Ll}{3,}$"
    r"|^\p{L}{3,}[._-]\p{L}{2,}$",
}
LONE_NAME = r"^\p{Lu}[\p{Ll}'’-]{2,}$"
# What may stand for nobody in particular among codes of persons.
ROLES = (
    "assistant nurse dentist dental trainee student specialist lead reader observer unknown none "
    "other locum loc associate principal consultant registrar intern hygienist therapist "
    "endodontist undergraduate postgraduate team panel consensus both first second nil null na tbc "
    "tba missing test"
)
# What may stand for a site without saying where it is.
SITE_WORDS = (
    "site branch clinic practice surgery room chair main second third other unknown none north "
    "south east west central centre center upper lower annex annexe unit department dept team "
    "head office headquarters training teaching mobile praxis standort cabinet clinique clinica "
    "studio filiale zentrale"
)
PLAIN_CODE = r"[A-Za-z]{0,2}[_-]?[0-9]{1,7}"
NOT_SO_PLAIN = r"[A-Za-z]{2,3}(?:19|20)[0-9]{2}|(?i)sn[_-]?[0-9]+"
CANDIDATE_NUMBER = r"[A-Za-z]?[0-9][0-9A-Za-z ./+-]{6,26}[A-Za-z0-9]|[XYZxyz][0-9]{7}[A-Za-z]"


def literal(pattern: str) -> str:
    """Return a pattern of this program as SQL text; a bound one is compiled anew for every row."""
    return "'" + pattern.replace("'", "''") + "'"
