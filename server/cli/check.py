"""`peakwright check`: a receiver file worked out as tables, and whether it contradicts itself."""

import sys

import typer

from server.cli.options import ReceiverFile


def check(
    file: ReceiverFile,
) -> None:
    """Work out the frequency plan of a receiver file, and say where the file contradicts itself."""
    from sequences.kinds import alignment_plan  # noqa: PLC0415 - keeps the help quick
    from sequences.plan.check_tables import check_tables  # noqa: PLC0415 - keeps the help quick
    from sequences.receiver.contradictions import contradictions  # noqa: PLC0415 - keeps the help quick
    from sequences.receiver.file import ReceiverFileError, read_receiver  # noqa: PLC0415 - keeps the help quick
    from server.cli.text_tables import show_table  # noqa: PLC0415 - keeps the help quick
    from server.terminal.console import HarmlessConsole  # noqa: PLC0415 - keeps the help quick

    try:
        receiver = read_receiver(file)
    except ReceiverFileError as error:
        print(error, file=sys.stderr)  # noqa: T201 - the sentence belongs on standard error, unwrapped
        raise typer.Exit(1) from None
    console = HarmlessConsole(soft_wrap=not sys.stdout.isatty(), width=None if sys.stdout.isatty() else WIDE)
    console.print(f"{receiver.name}: {receiver.description}", markup=False, highlight=False)
    for table in check_tables(receiver, alignment_plan(receiver)):
        show_table(console, table)
    faults = contradictions(receiver)
    for sentence in faults:
        print(sentence, file=sys.stderr)  # noqa: T201 - the sentence belongs on standard error, unwrapped
    if faults:
        raise typer.Exit(1)
    console.print(f"{file.name} closes: every conversion gives its IF at both ends of every band.", highlight=False)


WIDE = 200
"""Columns where the output is no terminal, so that a table in a file is not folded to a guess."""
