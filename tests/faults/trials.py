"""One kill: what it left, whether that is what is promised, and whether all goes on after it."""

import itertools
import shutil
import signal
import statistics
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field

from faults.bases import loaded_before, not_loaded, packed_before, ran
from faults.processes import group_has_ended, kill, start, wait_for
from faults.state import State, remains, state
from lengthwise.folder import AuditFolder

POLL_SECONDS = 0.001


def database_appears(process, folder):
    """Wait until a load has begun to make its database."""
    while not any(folder.root.glob("*audit.duckdb*")):
        assert process.poll() is None, process.stdout.read()
        time.sleep(POLL_SECONDS)


def says(words):
    """Return what waits until a process says the words."""
    return lambda process, _: wait_for(process, words)


@dataclass(frozen=True)
class Stage:
    """A command, how to see that its stage has begun, and its first words afterwards.

    Without such words the stage lasts to the end of the command. `files_may_follow`: files of
    the new state may be missing until the next command, as the rows set aside by a load.
    `in_a_row`: so many kills follow one another in a folder, on what the last one left, before
    the command is given to its end.
    """

    name: str
    base: Callable[..., AuditFolder]
    words: str
    begins: Callable[..., object]
    ends: str = ""
    files_may_follow: bool = False
    in_a_row: int = 1


def packable(root):
    """Return the folder of `packed_before` with the run that a new pack is to show."""
    return ran(packed_before(root), "analyse")


STAGES = (
    Stage("ingest, new folder", not_loaded, "ingest", database_appears, files_may_follow=True),
    Stage(
        "ingest, onto a load", loaded_before, "ingest", says("reading the files"),
        files_may_follow=True,
    ),
    Stage("derive", packed_before, "analyse", says("deriving tables"), "flow of cases"),
    Stage("analyse", packed_before, "analyse", says("flow of cases"), "Run "),
    # A pack takes long, so each fourth kill only is followed by a whole one.
    Stage("pack", packable, "pack", says("rendering "), in_a_row=4),
)  # fmt: skip


@dataclass
class Scene:
    """A stage with its folder as it was, and as an undisturbed command leaves it."""

    stage: Stage
    base: AuditFolder
    old: State
    new: State
    seconds: list[float]


@dataclass
class Tally:
    """What became of the kills of a stage."""

    counts: Counter = field(default_factory=Counter)
    failures: list[str] = field(default_factory=list)


def copy_of(base, root):
    """Return a copy of an audit folder."""
    return AuditFolder(shutil.copytree(base.root, root))


def undisturbed(stage, folder, temporary):
    """Run a stage's command to its end; return the stage's seconds and the exit code."""
    process = start(folder, *stage.words.split(), temporary=temporary)
    stage.begins(process, folder)
    begun = time.perf_counter()
    ended = wait_for(process, stage.ends) if stage.ends else None
    process.communicate()
    return (ended or time.perf_counter()) - begun, process.returncode


def prepared(stage, base, work):
    """Return the scene of a stage, whose command runs once without being disturbed."""
    folder = copy_of(base, work / "undisturbed")
    seconds, code = undisturbed(stage, folder, work / "temporary")
    assert code == 0, f"{stage.name}: the command fails without being killed"
    scene = Scene(stage, base, state(base), state(folder), [seconds])
    shutil.rmtree(folder.root)
    assert scene.old != scene.new, f"{stage.name}: the command changes nothing"
    return scene


def trial(scene, folder, temporary, share, *, is_group):
    """Kill the command at a share of its stage; return what was seen and what was wrong."""
    process = start(folder, *scene.stage.words.split(), temporary=temporary)
    scene.stage.begins(process, folder)
    time.sleep(share * statistics.median(scene.seconds[-5:]))
    said = kill(process, is_group=is_group)
    ends = scene.stage.ends
    seen = ["kills"]
    if process.returncode == -signal.SIGKILL and not (ends and ends in said):
        seen.append("landed inside")
    wrong = [] if group_has_ended(process) else ["a process of the killed command runs on"]
    return seen, wrong + _left(scene, folder, seen)


def _left(scene, folder, seen):
    """Note whether a kill left the old or the new state; return what is neither."""
    try:
        found = state(folder)
    except Exception as error:  # noqa: BLE001  any failure to open is what is looked for
        return [f"the database does not open ({type(error).__name__})"]
    if found.rows not in (scene.old.rows, scene.new.rows):
        return ["a part was stored, or a row lost"]
    is_new = found.rows == scene.new.rows and scene.new.rows != scene.old.rows
    wrong = []
    if found.files == scene.new.files != scene.old.files:
        is_new = True
    elif scene.stage.files_may_follow:
        if not _agrees(found.files, scene.old.files, scene.new.files, is_new=is_new):
            wrong.append("a file is half written, or lost")
    elif found.files != scene.old.files and not _moved_aside(folder, found, scene.old):
        wrong.append("files are neither the old nor the new ones")
    seen.append("new" if is_new else "old")
    return wrong


def _agrees(found, old, new, *, is_new):
    """Return whether old files are all there, and others as the new state has them."""
    known = new if is_new else old
    return all(known.get(name) == value for name, value in found.items()) and all(
        name in found for name in old
    )


def _moved_aside(folder, found, old):
    """Return whether what is missing lies whole in the folder that an exchange moves aside."""
    aside = list((folder.root / "reports").glob(".*.old-*"))
    if len(aside) != 1:
        return False
    shown = AuditFolder(folder.root / "reports" / "shown")
    shutil.copytree(aside[0], shown.root)
    missing = {name: value for name, value in old.files.items() if name not in found.files}
    kept = set(state(shown).files.values())
    shutil.rmtree(shown.root)
    return set(missing.values()) <= kept


def _again(scene, folder, temporary):
    """Give the command once more; return what then differs from an undisturbed run."""
    seconds, code = undisturbed(scene.stage, folder, temporary)
    scene.seconds.append(seconds)
    wrong = [] if code == 0 else [f"the command fails afterwards (exit {code})"]
    found = state(folder)
    if found.rows != scene.new.rows:
        wrong.append("the rows differ from those of an undisturbed run")
    if found.files != scene.new.files:
        changed = set(found.files.items()) ^ set(scene.new.files.items())
        wrong.append(f"files differ: {', '.join(sorted({name for name, _ in changed})[:3])}")
    left = remains(folder, temporary)
    return [*wrong, *([f"remains: {', '.join(left[:3])}"] if left else [])]


def kills(scene, number, generator, work, *, at_most=1.0, tell=lambda _: None):
    """Kill a stage's command a number of times, up to a share of its length; return the tally."""
    tally, stage, folder, in_a_row = Tally(), scene.stage, None, 0
    temporary = work / "temporary"
    for place, is_group in zip(range(number), itertools.cycle((True, False)), strict=False):
        folder = folder or copy_of(scene.base, work / "audit")
        share = float(generator.uniform(0, at_most))
        seen, wrong = trial(scene, folder, temporary, share, is_group=is_group)
        in_a_row += 1
        if in_a_row == stage.in_a_row or "new" in seen or place + 1 == number:
            wrong += _again(scene, folder, temporary)
            shutil.rmtree(folder.root)
            shutil.rmtree(temporary)
            folder, in_a_row = None, 0
        tally.counts.update(seen)
        tally.failures += [
            f"{stage.name}, kill {place + 1} at {share:.2f}: {words}" for words in wrong
        ]
        tell(f"{stage.name}: {place + 1} of {number}, {len(tally.failures)} failures")
    return tally
