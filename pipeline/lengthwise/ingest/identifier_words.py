"""Header words that announce a direct identifier, by class, in the languages of common exports.

The classes follow the eighteen of 45 CFR 164.514(b)(2)(i) as far as a table can hold them. The
words themselves are common practice, no source.
"""

import re
import unicodedata

NAME = "name"
ADDRESS = "address or place"
PHONE = "phone or fax"
EMAIL = "e-mail"
URL = "web address"
IP = "IP address"
BIRTH = "date of birth"
FULL_DATE = "full date outside a declared date field"
NATIONAL = "national or insurance number"
RECORD = "record number"
CARD = "payment card or account"
DEVICE = "device serial number"
IMAGE = "image file name"
INITIALS = "initials"
FREE_TEXT = "free text"

_WORDS: dict[str, str] = {
    NAME: (
        "name names forename surname firstname lastname fullname vorname nachname "
        "familienname nom prenom nombre apellido apellidos cognome nome naam voornaam "
        "achternaam sobrenome apelido fornamn efternamn"
    ),
    ADDRESS: (
        "address addr street postcode zip zipcode plz adresse anschrift strasse wohnort "
        "direccion domicilio indirizzo cap adres postadress rue codepostal town city ort "
        "ville ciudad"
    ),
    PHONE: (
        "phone telephone tel mobile fax telefon telefono handy mobil cellphone portable "
        "movil telefoon cellulare telefone"
    ),
    EMAIL: "email mail epost correo courriel",
    URL: "url website homepage webpage",
    IP: "ip ipaddress ipv4 ipv6",
    BIRTH: (
        "dob birth birthdate birthday born geburtsdatum geburtstag geboren gebdatum "
        "naissance nacimiento nascita geboortedatum nascimento fodelsedatum"
    ),
    NATIONAL: (
        "nhs ssn chi sin itin medicare medicaid dni nie nif kvnr nir bsn insee personnummer "
        "fodselsnummer cpr ahv pesel hetu insurance versicherungsnummer krankenkasse "
        "versichertennummer passport license licence npi svnr"
    ),
    RECORD: (
        "mrn chart record hospital patientennummer aktenzeichen kartei akte dossier "
        "expediente historia patientnumber patientnr patientno"
    ),
    CARD: "card iban account konto kontonummer creditcard",
    DEVICE: "serial seriennummer serienummer sn udi matricola",
    IMAGE: "filename imagefile photo picture bildname dateiname",
    INITIALS: "initials initialen initiales iniciales",
    FREE_TEXT: (
        "note notes remark remarks comment comments memo freetext bemerkung bemerkungen "
        "notiz kommentar remarque remarques commentaire observaciones comentario nota "
        "opmerking anmarkning observation"
    ),
}
_CLASS = {word: kind for kind, words in _WORDS.items() for word in words.split()}
_PAIRS = {
    ("file", "name"): IMAGE, ("image", "file"): IMAGE, ("e", "mail"): EMAIL,
    ("date", "birth"): BIRTH, ("free", "text"): FREE_TEXT, ("post", "code"): ADDRESS,
    ("ip", "address"): IP, ("web", "address"): URL, ("e", "post"): EMAIL,
    ("image", "name"): IMAGE, ("mail", "address"): EMAIL, ("patient", "number"): RECORD,
    ("patient", "no"): RECORD, ("patient", "nr"): RECORD, ("date", "naissance"): BIRTH,
    ("social", "security"): NATIONAL,
}  # fmt: skip
# Things of the trade that have a name, a record or a card of their own and are no person's.
_HARMLESS = (
    {"canal", "name"}, {"method", "name"}, {"tooth", "name"}, {"material", "name"},
    {"column", "name"}, {"practice", "name"}, {"observation", "date"}, {"crown", "ort"},
    {"medical", "history"}, {"record", "date"}, {"record", "type"}, {"mobile", "tooth"},
)  # fmt: skip


def header_words(header: str) -> tuple[str, ...]:
    """Return the words of a header in lower case without accents; camelCase is taken apart."""
    spaced = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", header).replace("ß", "ss")
    plain = unicodedata.normalize("NFKD", spaced).encode("ascii", "ignore").decode().lower()
    return tuple(re.findall(r"[a-z0-9]+", plain))


def header_class(header: str) -> str:
    """Return the identifier class that a header announces, or ''."""
    words = header_words(header)
    if any(harmless <= set(words) for harmless in _HARMLESS):
        return ""
    for pair, kind in _PAIRS.items():
        if set(pair) <= set(words):
            return kind
    found = [_CLASS[word] for word in words if word in _CLASS]
    # "Name of insurance" is a number's column, not a person's: the more telling word wins.
    return next((kind for kind in found if kind != NAME), found[0] if found else "")
