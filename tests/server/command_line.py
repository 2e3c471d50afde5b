"""The program's command line in this process."""

import sys

from server.__main__ import main


def run_command(*arguments: str) -> int:
    """Run a command to its end and give its exit status."""
    before, sys.argv = sys.argv, ["peakwright", *arguments]
    try:
        main()
    except SystemExit as end:
        return int(end.code or 0)
    finally:
        sys.argv = before
    return 0
