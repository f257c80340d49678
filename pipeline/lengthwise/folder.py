"""Where things lie in an audit folder."""

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class AuditFolder:
    """The one folder a practice works in."""

    root: Path

    @property
    def exports(self) -> Path:
        """Return the folder of the exports, as they came."""
        return self.root / "exports"

    @property
    def database(self) -> Path:
        """Return the database file."""
        return self.root / "audit.duckdb"

    @property
    def mapping(self) -> Path:
        """Return the mapping file."""
        return self.root / "mapping.toml"

    @property
    def quarantine(self) -> Path:
        """Return the folder of rows to mend."""
        return self.root / "quarantine"

    @property
    def checks(self) -> Path:
        """Return the folder of what the last check found."""
        return self.root / "reports" / "check"

    def reports(self, period: str, audience: str = "internal") -> Path:
        """Return the folder of one period's reports for one audience."""
        return self.root / "reports" / period / audience
