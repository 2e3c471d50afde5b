"""The program `peakwright`."""

import sys
import tempfile
import traceback

from server.cli import build_cli
from server.errors import ServerError
from server.plain_text import harmless


def main() -> None:
    """Run a command. An error that is meant for people is one sentence on standard error and exit status 1."""
    try:
        build_cli()()
    except ServerError as error:
        _give_up(str(error))
    except Exception as error:  # noqa: BLE001 - a fault of ours, which a person should not have to read
        _give_up(f"The program met a fault of its own ({type(error).__name__}); {_kept_fault()} says where.")


def _give_up(sentence: str) -> None:
    sys.stderr.write(f"{harmless(sentence)}\n")
    sys.exit(1)


def _kept_fault() -> str:
    with tempfile.NamedTemporaryFile("w", prefix="peakwright-", suffix=".log", delete=False, encoding="utf-8") as log:
        traceback.print_exc(file=log)
        return log.name


if __name__ == "__main__":
    main()
