"""The errors a user can meet, one exit code per class; none carries a value of a data row."""


class LengthwiseError(Exception):
    """Base of every error that is printed without a traceback."""

    exit_code = 70


class FindingsError(LengthwiseError):
    """The files were read and something in them needs mending."""

    exit_code = 1


class UnreadableError(LengthwiseError):
    """A file or folder cannot be read at all."""

    exit_code = 2


class SettingsError(LengthwiseError):
    """A TOML file of the audit folder says something that cannot be followed."""

    exit_code = 3


class IdentifierError(LengthwiseError):
    """A file seems to hold direct identifiers; nothing of it was stored."""

    exit_code = 4


class StoreError(LengthwiseError):
    """The database cannot be opened, written or trusted; it is as it was before."""

    exit_code = 5


class AnalysisError(LengthwiseError):
    """There is nothing to analyse, or a stage before it has not been run."""

    exit_code = 6


class ReportError(LengthwiseError):
    """A report could not be rendered."""

    exit_code = 7
