"""The walls between the rooms, and what stands at the top of the house."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]
ROOMS = ("server", "drivers", "sequences", "simulators")
LONGEST_FILE = 500


def tracked_files() -> list[Path]:
    """Every file the repository holds."""
    listing = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True)
    return [ROOT / line for line in listing.stdout.splitlines()]


def test_the_walls_hold() -> None:
    """The contracts stand in pyproject.toml."""
    outcome = subprocess.run(
        [str(Path(sys.executable).parent / "lint-imports"), "--no-cache"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )

    assert outcome.returncode == 0, outcome.stdout


def test_only_the_agreed_things_stand_at_the_top() -> None:
    """Anything new has a room below."""
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "LICENSE", "tests", *ROOMS}
    top = {path.relative_to(ROOT).parts[0] for path in tracked_files()}

    assert {name for name in top if not name.startswith(".")} <= allowed


def test_no_source_file_is_too_long_to_read() -> None:
    """One subject a file."""
    sources = [path for path in tracked_files() if path.suffix in {".py", ".js", ".css"} and path.exists()]
    too_long = {path.name: n for path in sources if (n := len(path.read_text().splitlines())) > LONGEST_FILE}

    assert too_long == {}
