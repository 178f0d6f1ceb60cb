"""What the tests of the editors share: the program, a notebook, and waiting."""

from __future__ import annotations

import os
import pathlib
import shutil
import sys
import time

import pytest

from notes import NOTES

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.append(str(ROOT / "tests" / "python"))

from program import program  # noqa: E402  (found by way of the path above)

# The server reckons with this date, so that what it says of days does not change.
NOW = "2027-02-15 10:00"
TODAY = "2027-02-15"

# How long an editor may take on a busy machine, in seconds.
PATIENCE = float(os.environ.get("PORISM_TEST_PATIENCE", "30"))

def wait_until(condition, what: str, seconds: float = PATIENCE):
    """Asks again and again until the answer is true, and gives the answer."""
    deadline = time.monotonic() + seconds
    while True:
        answer = condition()
        if answer:
            return answer
        if time.monotonic() > deadline:
            pytest.fail(f"waited {seconds:.0f} s in vain: {what}; at last: {answer!r}")
        time.sleep(0.05)


def needs(program: str | None, how: str) -> str:
    """An editor that a test drives. Missing editors fail, unless they may be passed over."""
    found = program and shutil.which(program)
    if found:
        return found
    if os.environ.get("PORISM_SKIP_EDITORS") == "1":
        pytest.skip(f"missing: {how}")
    pytest.fail(f"missing: {how}. PORISM_SKIP_EDITORS=1 passes over the tests of missing editors.")


@pytest.fixture(scope="session")
def porism() -> str:
    """The program: PORISM_BIN, or built from the sources as they are now."""
    return os.environ.get("PORISM_BIN") or program()


@pytest.fixture
def notebook(tmp_path: pathlib.Path) -> pathlib.Path:
    """A folder with one course."""
    folder = (tmp_path / "notes").resolve()
    folder.mkdir()
    (folder / "waves.porism").write_text(NOTES, encoding="utf-8")
    return folder


@pytest.fixture
def home(tmp_path: pathlib.Path) -> dict[str, str]:
    """An environment without anybody's own configuration."""
    folder = tmp_path / "home"
    folder.mkdir()
    kept = {key: value for key, value in os.environ.items() if not key.startswith("XDG_")}
    own = {"HOME": str(folder), "TERM": "xterm", "LC_ALL": "C.UTF-8", "PORISM_NOW": NOW}
    return kept | own
