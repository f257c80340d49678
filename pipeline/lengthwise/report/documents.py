"""The kinds of documents: their source, formats, readers, and what each may know."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from lengthwise.errors import ReportError
from lengthwise.folder import AuditFolder

if TYPE_CHECKING:
    from lengthwise.report.run_data import RunData


@dataclass(frozen=True, slots=True)
class Document:
    """One document to render.

    Attributes
    ----------
    name : str
        File name without ending.
    run_data : RunData
        All that the document may know; it is written beside the render and nothing else is.
    subject : str
        The clinician whose sheet it is, else empty; never part of a name.
    """

    name: str
    run_data: "RunData"
    subject: str = ""


Views = Callable[["RunData", AuditFolder], list[Document]]


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of document.

    Attributes
    ----------
    source : str
        The .qmd in reports/; it has the parameters `database` and `run`.
    formats : tuple of str
        What is made where nobody asks for less.
    audience : str
        The folder below reports/<period>: internal, clinicians or shared.
    documents : function
        From a run and the audit folder to the documents of this kind.
    """

    name: str
    source: str
    formats: tuple[str, ...]
    audience: str
    documents: Views


def _quarterly(run_data: "RunData", folder: AuditFolder) -> list[Document]:
    return [Document(f"quarterly-audit-{run_data.run['period']}", run_data)]


# A new kind is one line here and its source in reports/.
KINDS = {
    kind.name: kind
    for kind in (
        Kind(
            "quarterly",
            "quarterly_audit.qmd",
            ("html", "pdf", "docx"),
            "internal",
            _quarterly,
        ),
    )
}


def kind_of(name: str) -> Kind:
    """Return the kind of a name.

    Raises
    ------
    ReportError
        There is no such kind.
    """
    if name not in KINDS:
        raise ReportError(f"There is no report {name}; there are {', '.join(KINDS)}.")
    return KINDS[name]


def chosen_formats(kind: Kind, wanted: tuple[str, ...] | None) -> tuple[str, ...]:
    """Return the formats to make; one the kind does not have is refused.

    Raises
    ------
    ReportError
        With the formats that the kind has.
    """
    if unknown := sorted(set(wanted or ()) - set(kind.formats)):
        raise ReportError(
            f"Unknown format {', '.join(unknown)} for the report {kind.name}; known: "
            f"{', '.join(kind.formats)}."
        )
    return tuple(wanted or kind.formats)
