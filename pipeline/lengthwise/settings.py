"""Frozen settings of one audit folder, read from settings.toml, criteria.toml, actions.toml."""

import tomllib
from dataclasses import asdict, dataclass, field, fields
from pathlib import Path
from typing import Any

from lengthwise.errors import SettingsError

PURPOSES = ("audit", "service_evaluation", "research")
PRESETS: dict[str, tuple[float, float]] = {
    # name: (short below, within up to), in mm of fill_offset_mm; beyond is always above 0
    "0-2": (-2.0, 0.0),
    "0.5-2": (-2.0, -0.5),
    "0-3": (-3.0, 0.0),
}


@dataclass(frozen=True, slots=True)
class Thresholds:
    """Limits in mm that the analyses use."""

    tolerance_mm: float = 0.5
    wide_tolerance_mm: float = 1.0
    watch_mm: float = 0.5
    review_mm: float = 1.0


@dataclass(frozen=True, slots=True)
class FollowUp:
    """Windows of the outcome, in months."""

    first_countable_months: int = 12
    uncertain_until_months: int = 48
    horizon_months: int = 12
    choice: str = "nearest_horizon"
    reader_rule: str = "first"
    yearly_review_months: int = 12
    sooner_review_months: int = 6
    overdue_after_months: int = 3
    lost_after_months: int = 12


@dataclass(frozen=True, slots=True)
class SmallNumbers:
    """Refusals: below these counts a number is not given, or carries a warning."""

    minimum_pairs: int = 10
    warn_pairs: int = 20
    minimum_denominator: int = 10
    minimum_events: int = 5
    events_per_parameter: int = 10
    minimum_clinicians: int = 5
    minimum_level: int = 10


@dataclass(frozen=True, slots=True)
class Disclosure:
    """Smallest counts that may be seen: inside the practice, and in what is shared."""

    internal_minimum: int = 5
    shared_minimum: int = 10
    rounding_base: int = 5


@dataclass(frozen=True, slots=True)
class PrivateCusum:
    """The chart of a clinician's own unwanted events; drawn only where it is asked for.

    Attributes
    ----------
    odds_ratio : float
        Change looked for; 2 is a doubling of the odds.
    run_length : int
        Wanted mean number of own cases between false signals.
    """

    is_wanted: bool = False
    odds_ratio: float = 2.0
    run_length: int = 1000


@dataclass(frozen=True, slots=True)
class Settings:
    """Everything a practice can set; defaults are printed by the commented template."""

    practice_name: str = "Our practice"
    purpose: str = "service_evaluation"
    approval_reference: str = ""
    re_audit_date: str = ""
    preset: str = "0-2"
    confidence_level: float = 0.95
    methods: dict[str, str] = field(default_factory=dict)
    canals: dict[str, str] = field(default_factory=dict)
    thresholds: Thresholds = field(default_factory=Thresholds)
    follow_up: FollowUp = field(default_factory=FollowUp)
    small_numbers: SmallNumbers = field(default_factory=SmallNumbers)
    disclosure: Disclosure = field(default_factory=Disclosure)
    private_cusum: PrivateCusum = field(default_factory=PrivateCusum)
    criteria: tuple[dict[str, Any], ...] = ()
    actions: tuple[dict[str, Any], ...] = ()
    new_baselines: tuple[dict[str, Any], ...] = ()

    @property
    def extensions(self) -> dict[str, dict[str, str]]:
        """Return the practice's own values for extensible fields of the dictionary."""
        return {"method": self.methods, "canal": self.canals}

    @property
    def level_limits_mm(self) -> tuple[float, float]:
        """Return (short below, within up to) of the preset, in mm."""
        return PRESETS[self.preset]

    def as_dict(self) -> dict[str, Any]:
        """Return plain values for the manifest."""
        return asdict(self)


_PARTS = {
    "thresholds": Thresholds,
    "follow_up": FollowUp,
    "small_numbers": SmallNumbers,
    "disclosure": Disclosure,
    "private_cusum": PrivateCusum,
}
_CHOICES = {
    "purpose": PURPOSES,
    "preset": tuple(PRESETS),
    "choice": ("latest", "nearest_horizon"),
    "reader_rule": ("first", "worst", "consensus"),
}


def _read(path: Path) -> dict[str, Any]:
    if not path.exists():
        return {}
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        place = str(error).rpartition("(")[2].rstrip(")") if "(" in str(error) else ""
        raise SettingsError(
            f"{path.name}: not valid TOML {place}; mend that line or start from the template"
        ) from None


def _checked(where: str, kind: type, raw: dict[str, Any]) -> dict[str, Any]:
    known = {item.name: item for item in fields(kind)}
    for name, value in raw.items():
        if name not in known:
            close = ", ".join(sorted(known))
            raise SettingsError(f"{where}: unknown setting {name}; known are {close}")
        wanted = type(getattr(kind(), name))
        fits = isinstance(value, wanted) or (wanted is float and isinstance(value, int))
        if not fits or (isinstance(value, bool) and wanted is not bool):
            raise SettingsError(f"{where}: {name} must be a {wanted.__name__}")
        if wanted in (int, float) and value <= 0:
            raise SettingsError(f"{where}: {name} must be greater than 0")
        if name in _CHOICES and value not in _CHOICES[name]:
            raise SettingsError(f"{where}: {name} must be one of {', '.join(_CHOICES[name])}")
    return raw


def _tables(path: Path, key: str) -> tuple[dict[str, Any], ...]:
    raw = _read(path).get(key, [])
    if not isinstance(raw, list) or not all(isinstance(item, dict) for item in raw):
        raise SettingsError(f"{path.name}: each entry is written as [[{key}]]")
    return tuple({name: _plain(value) for name, value in item.items()} for item in raw)


def _plain(value: Any) -> Any:
    return value if isinstance(value, (str, int, float, bool, list)) else str(value)


def load_settings(folder: Path) -> Settings:
    """Return the settings of an audit folder; files that are absent leave the defaults.

    Raises
    ------
    SettingsError
        With the file and the setting, when something in it cannot be followed.
    """
    raw = _read(folder / "settings.toml")
    parts = {
        name: kind(**_checked(f"settings.toml [{name}]", kind, raw.pop(name, {})))
        for name, kind in _PARTS.items()
    }
    plain = _checked("settings.toml", Settings, {key: _plain_top(raw[key]) for key in raw})
    settings = Settings(
        **plain,
        **parts,
        criteria=_tables(folder / "criteria.toml", "criterion"),
        actions=_tables(folder / "actions.toml", "action"),
        new_baselines=_tables(folder / "actions.toml", "new_baseline"),
    )
    if settings.purpose == "research" and not settings.approval_reference:
        raise SettingsError("settings.toml: purpose research needs approval_reference")
    return settings


def _plain_top(value: Any) -> Any:
    return value if isinstance(value, dict) else _plain(value)
