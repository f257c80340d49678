"""A full disk is a clear error; it loses nothing, and all goes on once there is room."""

import resource
import shutil
import subprocess

import pytest

from faults.processes import start
from faults.state import remains, rows, state
from faults.trials import copy_of
from folders import demo_copy

DISK = "32m"


def refused(folder, *words, temporary, **options):
    """Give a command that must fail for want of room, in plain words."""
    process = start(folder, *words, temporary=temporary, **options)
    said, _ = process.communicate()
    assert process.returncode == 5, said
    assert "Traceback" not in said
    assert "free" in said
    return said


def succeeds(folder, *words, temporary):
    process = start(folder, *words, temporary=temporary)
    said, _ = process.communicate()
    assert process.returncode == 0, said


def small_files():
    resource.setrlimit(resource.RLIMIT_FSIZE, (400_000, 400_000))


def test_a_limit_on_files_is_a_clear_error_and_loses_nothing(tmp_path):
    folder = demo_copy(tmp_path / "audit")
    refused(folder, "ingest", temporary=tmp_path / "scratch", preexec_fn=small_files)
    assert rows(folder) == {}
    succeeds(folder, "ingest", temporary=tmp_path / "scratch")
    assert rows(folder)


@pytest.fixture
def disk(tmp_path):
    """Yield a disk of its own, of a few megabytes."""
    place = tmp_path / "disk"
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", f"size={DISK}", "tmpfs", str(place)]
    try:
        done = subprocess.run(mount, capture_output=True, text=True)
    except FileNotFoundError:
        pytest.skip("this machine has no mount, so there is no small disk to fill")
    if done.returncode:
        pytest.skip(f"this account may not mount a small disk: {done.stderr.strip()}")
    yield place
    subprocess.run(["umount", "-l", str(place)], check=True)


def filled(disk, free):
    """Fill a disk but for so many bytes; return the file that does."""
    ballast = disk / "ballast"
    size = shutil.disk_usage(disk).free - free
    with ballast.open("wb") as handle:
        for _ in range(size // 4096):
            handle.write(b"\1" * 4096)
    return ballast


@pytest.mark.parametrize("free", [8_192, 300_000, 2_000_000])
def test_a_load_on_a_full_disk_stores_nothing_and_the_next_all(tmp_path, disk, free):
    folder, scratch = demo_copy(disk / "audit"), tmp_path / "scratch"
    ballast = filled(disk, free)
    refused(folder, "ingest", temporary=scratch)
    assert rows(folder) == {}
    ballast.unlink()
    succeeds(folder, "ingest", temporary=scratch)
    known = rows(folder)
    assert len(known["record", "readings"]) > 19_000
    assert remains(folder, scratch) == []


@pytest.mark.xdist_group("analysed")
def test_an_analysis_or_a_pack_on_a_full_disk_leaves_what_was_there(
    tmp_path, disk, analysed_folder
):
    folder, scratch = copy_of(analysed_folder, disk / "audit"), tmp_path / "scratch"
    before = state(folder)
    ballast = filled(disk, 40_000)
    for words in (["analyse"], ["pack"]):
        refused(folder, *words, temporary=scratch)
        assert state(folder).rows == before.rows
        assert state(folder).files == before.files
    ballast.unlink()
    succeeds(folder, "analyse", temporary=scratch)
    assert remains(folder, scratch) == []
