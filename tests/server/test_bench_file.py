"""A bench file is read whole or refused in one sentence that names the file, the key and what is allowed."""

from pathlib import Path

import pytest

from server.bench.file import BenchFile, CounterEntry, MeterEntry, SourceEntry, read_bench_file
from server.errors import BenchFileError

WHOLE = """
[source]
address = "TCPIP::127.0.0.1::5025::SOCKET"
ceiling_dbm = -10.0
loss_db = 20

[meter]
address = "TCPIP::127.0.0.1::5026::SOCKET"
function = "ac"

[counter]
address = "TCPIP::127.0.0.1::5027::SOCKET"
"""


def written(folder: Path, text: str) -> Path:
    """Put a bench file down."""
    path = folder / "bench.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_whole_file_is_read(tmp_path: Path) -> None:
    """Every key of every role."""
    bench = read_bench_file(written(tmp_path, WHOLE))

    assert bench == BenchFile(
        source=SourceEntry(address="TCPIP::127.0.0.1::5025::SOCKET", ceiling_dbm=-10.0, loss_db=20.0),
        meter=MeterEntry(address="TCPIP::127.0.0.1::5026::SOCKET", function="ac"),
        counter=CounterEntry(address="TCPIP::127.0.0.1::5027::SOCKET"),
    )


def test_a_role_may_be_left_out_and_the_rest_has_defaults(tmp_path: Path) -> None:
    """The defaults are the cautious ones: 0 dBm at most, a DC meter."""
    bench = read_bench_file(written(tmp_path, '[source]\naddress = "A"\n[meter]\naddress = "B"\n'))

    assert bench.counter is None
    assert bench.source == SourceEntry(address="A", ceiling_dbm=0.0, loss_db=0.0)
    assert bench.meter == MeterEntry(address="B", function="dc")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('[meter]\naddress = "A"\nfunction = "rms"', ["[meter] function", '"rms"', "'dc'", "'ac'"]),
        ('[meter]\nadress = "A"', ["[meter] address is missing"]),
        ('[meter]\naddress = "A"\nadress = "A"', ["[meter] adress", "known keys are address, dialect, baud, function"]),
        ('[source]\naddress = "A"\nloss_db = "ten"', ["[source] loss_db", '"ten"', "a number"]),
        ('[source]\naddress = "A"\nloss_db = -3.0', ["[source] loss_db", "-3", "0", "or more"]),
        ('[source]\naddress = "A"\nceiling_dbm = 60.0', ["[source] ceiling_dbm", "60", "30", "or less"]),
        ('[source]\naddress = "A"\nceiling_dbm = nan', ["[source] ceiling_dbm", "finite number"]),
        ('[source]\naddress = ""', ["[source] address", "not empty"]),
        ("[source]\naddress = 5", ["[source] address", "text"]),
        ('[scope]\naddress = "A"', ["[scope]", "known sections are source, meter, counter"]),
        ('meter = "A"', ["[meter]", "address, dialect, baud, function"]),
        ("", ["names no instrument", "source, meter, counter"]),
        ("[meter\n", ["not valid TOML", "line 1"]),
    ],
)
def test_a_bad_file_gets_one_sentence(tmp_path: Path, text: str, words: list[str]) -> None:
    """It names the file, the key, what stands there and what may stand there."""
    path = written(tmp_path, text)

    with pytest.raises(BenchFileError) as refusal:
        read_bench_file(path)

    sentence = str(refusal.value)
    assert sentence.startswith(f"{path}: ")
    assert "\n" not in sentence
    assert sentence.endswith(".")
    for word in words:
        assert word in sentence


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    """With the reason the system gives."""
    with pytest.raises(BenchFileError, match=r"nothing\.toml: the bench file cannot be read \(No such file"):
        read_bench_file(tmp_path / "nothing.toml")


def test_a_file_that_is_not_text_is_refused(tmp_path: Path) -> None:
    """A spreadsheet saved under the wrong name, say."""
    path = tmp_path / "bench.toml"
    path.write_bytes(b"\xff\xfe\x00")

    with pytest.raises(BenchFileError, match="not UTF-8"):
        read_bench_file(path)
