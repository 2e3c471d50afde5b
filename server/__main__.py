"""The program `peakwright`."""

import sys

from server.cli import build_cli
from server.errors import ServerError


def main() -> None:
    """Run a command. An error that is meant for people is one sentence on standard error and exit status 1."""
    try:
        build_cli()()
    except ServerError as error:
        sys.stderr.write(f"{error}\n")
        sys.exit(1)


if __name__ == "__main__":
    main()
