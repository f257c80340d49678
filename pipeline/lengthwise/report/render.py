"""Render a report source: one execution, any of html, pdf, docx and pptx."""

import shutil
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from lengthwise.errors import ReportError

FORMATS = ("html", "pdf", "docx", "pptx")
ENGINES = ("auto", "quarto", "embedded")


def render(
    source: Path,
    formats: Sequence[str],
    parameters: Mapping[str, Any],
    output_dir: Path,
    name: str,
    *,
    engine: str = "auto",
    work_dir: Path | None = None,
    is_alone: bool = False,
) -> list[Path]:
    """Render `source` to `output_dir/name.<format>` and return those paths.

    Parameters
    ----------
    source : Path
        A .qmd; the folder around it (included parts, settings) is copied with it.
    formats : sequence of str
        Any of html, pdf, docx, pptx.
    parameters : mapping
        Values for the cell tagged `parameters`; an unknown name is a ReportError.
    engine : str
        `quarto`, `embedded`, or `auto`: Quarto where it is on PATH and recent enough.
    work_dir : Path, optional
        Where the fresh folder is made, the system's place for such by default.
    is_alone : bool
        This process renders this document and no other, so its cells may run in it.

    Notes
    -----
    Each render works in a fresh folder of its own: images of one document can then never
    appear in another. Files reach `output_dir` only when all formats succeeded.
    """
    from lengthwise.report import quarto
    from lengthwise.report.embedded import renderer
    from lengthwise.report.slides import finish_slides

    _refuse_unknown(formats, FORMATS, "format")
    engine = chosen_engine(engine)
    with tempfile.TemporaryDirectory(prefix="lengthwise-report-", dir=work_dir) as temporary:
        folder = Path(temporary) / "report"
        copied, given = _copy_source(source, folder), _absolute(parameters)
        if engine == "quarto":
            made = quarto.render_into(copied, list(formats), given, name)
        else:
            made = renderer.render_into(
                copied, list(formats), given, name, is_alone=is_alone
            )  # fmt: skip
        for path in made:
            if path.suffix == ".pptx":
                finish_slides(path)
        return [_moved(path, output_dir) for path in made]


def chosen_engine(engine: str) -> str:
    """Return `quarto` or `embedded`; `auto` is Quarto where it is usable."""
    from lengthwise.report import quarto

    _refuse_unknown([engine], ENGINES, "engine")
    if engine == "auto":
        return "quarto" if quarto.is_usable() else "embedded"
    return engine


def _refuse_unknown(given: Sequence[str], known: Sequence[str], what: str) -> None:
    if unknown := sorted(set(given) - set(known)):
        raise ReportError(f"Unknown {what} {', '.join(unknown)}; known: {', '.join(known)}.")


def _copy_source(source: Path, folder: Path) -> Path:
    """Copy the source and its neighbours that a report may include, not what was rendered."""
    if not source.is_file():
        raise ReportError(f"The report source {source.name} is not there.")
    folder.mkdir()
    for pattern in ("_*.yml", "*.css", "_sections/*"):
        for path in sorted(source.parent.glob(pattern)):
            target = folder / path.relative_to(source.parent)
            target.parent.mkdir(exist_ok=True)
            shutil.copyfile(path, target)
    return Path(shutil.copyfile(source, folder / source.name))


def _absolute(parameters: Mapping[str, Any]) -> dict[str, Any]:
    """Resolve paths now, since the cells run in another folder."""
    return {
        name: str(value.resolve()) if isinstance(value, Path) else value
        for name, value in parameters.items()
    }


def _moved(path: Path, output_dir: Path) -> Path:
    output_dir.mkdir(parents=True, exist_ok=True)
    target = output_dir / path.name
    # Copy beside the target first: replacing is atomic only within one file system.
    waiting = output_dir / f".{path.name}.part"
    shutil.copyfile(path, waiting)
    return waiting.replace(target)
