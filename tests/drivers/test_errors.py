"""The errors of the drivers: one tree, one sentence each, and nothing loaded before it is needed."""

import inspect
import re
import subprocess
import sys

import pytest

from drivers import errors
from drivers.scpi import ErrorEntry

ADDRESS = "TCPIP::192.0.2.7::5025::SOCKET"
EXAMPLES = [
    errors.BadAddressError(ADDRESS, "the port must be a number"),
    errors.NotConnectedError(ADDRESS, "connection refused"),
    errors.LinkLostError(ADDRESS, ":READ?", "the instrument hung up"),
    errors.ReplyTimeoutError(ADDRESS, ":READ?", 2.0),
    errors.ReplyTooLongError(ADDRESS, ":READ?", "1" * 100, 65536),
    errors.GarbledReplyError(ADDRESS, ":READ?", "1.2.3", "not a number"),
    errors.InstrumentError(ADDRESS, ":FREQ 1", (ErrorEntry(-222, "Data out of range"), ErrorEntry(-100, "Command"))),
    errors.OverloadError(ADDRESS, 9.9e37),
    errors.NotANumberError(ADDRESS, 9.91e37),
    errors.WrongRoleError(ADDRESS, "source", "A, B", "it is a meter"),
    errors.InstrumentChangedError(ADDRESS, "its output was on and is now off"),
    errors.UnpairedReplyError(ADDRESS, ":READ?", "17;1.5;17", "it is the answer to another question, or part of one"),
    errors.InstrumentInUseError(ADDRESS, "process 4711"),
    errors.SettingNotTakenError(ADDRESS, "455000 Hz", "1e+06 Hz"),
    errors.OutputStillOnError(ADDRESS),
    errors.SettingError(ADDRESS, "0 Hz is not a frequency the source can be set to."),
    errors.CeilingError(ADDRESS, 0.0, -20.0),
    errors.PowerNotSetError(ADDRESS),
]


def every_class() -> dict[str, type]:
    """The classes of the module."""
    return dict(inspect.getmembers(errors, inspect.isclass))


def test_the_tree_at_the_top_of_the_module_is_the_tree_of_the_classes() -> None:
    """Name and parent of each, by indentation."""
    drawn = {}
    parents: list[tuple[int, str]] = []
    for spaces, name in re.findall(r"^( *)(\w+Error)\b", errors.__doc__ or "", re.MULTILINE):
        if name in drawn or (not spaces and name != "DriverError"):
            continue
        parents = [entry for entry in parents if entry[0] < len(spaces)]
        drawn[name] = parents[-1][1] if parents else "Exception"
        parents.append((len(spaces), name))

    assert drawn == {name: cls.__base__.__name__ for name, cls in every_class().items() if cls.__base__}


@pytest.mark.parametrize("error", EXAMPLES, ids=lambda error: type(error).__name__)
def test_every_error_is_a_plain_sentence_that_names_the_instrument(error: errors.DriverError) -> None:
    """For the person at the bench."""
    text = str(error)

    assert text.endswith((".", "?"))
    assert "\n" not in text
    assert error.address == ADDRESS
    assert ADDRESS in text or isinstance(error, errors.SettingError)


def test_every_kind_of_error_has_an_example_here() -> None:
    """All that can be raised as they are."""
    parents = {cls.__base__ for cls in every_class().values()}

    assert {type(error) for error in EXAMPLES} >= set(every_class().values()) - parents


def test_the_drivers_can_be_imported_without_loading_visa() -> None:
    """`--help` must not wait for it."""
    rooms = "drivers.sources, drivers.meters, drivers.counters, drivers.discovery"
    code = f"import sys, {rooms}; print('pyvisa' in sys.modules)"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert run.stdout.strip() == "False"
