"""A headless browser of this machine, cut off from every network, for the tests of pages."""

import shutil
from contextlib import contextmanager
from importlib import resources
from pathlib import Path

import pytest

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
# WCAG 2.2 A and AA, in the browser-side checker's own names.
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22a", "wcag22aa"]


def browser_path():
    """Return the path of a browser on this machine, or skip the test and say why."""
    found = [path for name in NAMES if (path := shutil.which(name))]
    if not found:
        pytest.skip(f"no headless browser is on this machine (looked for {', '.join(NAMES)})")
    return found[0]


@contextmanager
def browser():
    """Yield a running browser; it has its own profile and leaves nothing behind."""
    from playwright.sync_api import sync_playwright

    path = browser_path()
    with sync_playwright() as driver:
        # Machines that build and test often run as root, where the sandbox cannot start.
        started = driver.chromium.launch(executable_path=path, args=["--no-sandbox"])
        try:
            yield started
        finally:
            started.close()


# Only what is broken is handed over: what passed is every cell of every table.
CHECK = """async ([tags, contrast]) => {
  const found = await axe.run(document, {
    runOnly: tags, resultTypes: ['violations'], elementRef: false, selectors: false,
    rules: { 'color-contrast': { enabled: contrast } },
  });
  return found.violations.map((item) => `${item.id}: ${item.nodes[0].html.slice(0, 160)}`);
}"""


class Opened:
    """A page that is open, with what it asked for and complained of."""

    def __init__(self, started, path: Path, width: int):
        self.path, self.complaints, self.requests = path, [], []
        self.context = started.new_context(
            viewport={"width": width, "height": 900}, offline=True
        )
        self.page = self.context.new_page()
        self.page.on("console", self._console)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("requestfailed", lambda request: self.complaints.append(request.url[:80]))
        self.page.on("request", lambda request: self.requests.append(request.url))
        self.page.goto(path.as_uri(), wait_until="load")

    def _console(self, message):
        if message.type in {"error", "warning"}:
            self.complaints.append(message.text)

    def run(self, script, argument=None):
        return self.page.evaluate(script, argument)

    def violations(self, *, with_contrast: bool = True):
        """Return the rules that the accessibility checker finds broken, with one element each.

        Contrast takes most of the time and does not depend on the width of the window.
        """
        self.page.add_script_tag(content=checker())
        return self.run(CHECK, [TAGS, with_contrast])


def checker():
    """Return the checker's script, which the wheel carries; nothing is fetched."""
    folder = resources.files("axe_playwright_python")
    return folder.joinpath("axe.min.js").read_text(encoding="utf-8")


@contextmanager
def opened(started, path, width):
    """Yield the page at `path` in a window of `width` CSS pixels."""
    page = Opened(started, path, width)
    try:
        yield page
    finally:
        page.context.close()
