"""Commands as processes of their own: started, timed, and killed."""

import os
import signal
import subprocess
import sys
import time
from contextlib import suppress

COMMAND = [sys.executable, "-u", "-m", "lengthwise"]
LAST_MOMENTS_SECONDS = 60


def start(folder, *words, temporary=None, **options):
    """Start a command on a folder, as the leader of a group; what it says comes in one stream."""
    environment = dict(os.environ)
    if temporary is not None:
        temporary.mkdir(exist_ok=True)
        environment["TMPDIR"] = str(temporary)
    return subprocess.Popen(
        [*COMMAND, *words, "--folder", str(folder.root)],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, start_new_session=True,
        env=environment, **options,
    )  # fmt: skip


def finish(folder, *words, temporary=None):
    """Run a command to its end; return its exit code."""
    process = start(folder, *words, temporary=temporary)
    process.communicate()
    return process.returncode


def wait_for(process, words):
    """Read what the process says until a line holds the words; return the moment."""
    for line in process.stdout:
        if words in line:
            return time.perf_counter()
    raise AssertionError(f"the process never said {words!r}")


def kill(process, *, is_group):
    """Kill a process, or it and all it has started; return what it had still said."""
    if is_group:
        os.killpg(process.pid, signal.SIGKILL)
    else:
        process.kill()
    # Those that a killed process leaves keep its stream open, so the stream may not end.
    process.wait()
    os.set_blocking(process.stdout.fileno(), False)
    with suppress(TypeError, BlockingIOError):
        return process.stdout.read() or ""
    return ""


def group_has_ended(process):
    """Wait until nothing is left of a process's group; return False where something stays."""
    until = time.monotonic() + LAST_MOMENTS_SECONDS
    while time.monotonic() < until:
        try:
            os.killpg(process.pid, 0)
        except ProcessLookupError:
            return True
        time.sleep(0.05)
    return False


def dead_process():
    """Return the number of a process that has ended."""
    done = subprocess.run(
        [sys.executable, "-c", "import os; print(os.getpid())"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    return int(done.stdout)
