"""The record's file is for its owner's eyes, and what is written once it is gone is refused and not lost in silence."""

import os
import shutil
import stat
from pathlib import Path

import pytest

from sequences.engine.events import Notice
from server.errors import StoreError
from server.records.record_file import make_private_folder
from server.records.store import Store
from tests.server.records.samples import SCAN


def rights(path: Path) -> int:
    """Give what owner, group and others may do."""
    return stat.S_IMODE(path.stat().st_mode)


@pytest.mark.skipif(os.name != "posix", reason="rights of files are those of POSIX")
def test_a_record_is_for_its_owner_alone(tmp_path: Path) -> None:
    """Folder and file, and what SQLite keeps beside it."""
    file = tmp_path / "deep" / "er" / "record.sqlite"
    store = Store(file)
    store.begin_run(SCAN)

    assert [rights(each) for each in (file.parent, file.parent.parent)] == [0o700, 0o700]
    assert {rights(each) for each in file.parent.iterdir()} == {0o600}
    store.close()


@pytest.mark.skipif(os.name != "posix", reason="rights of files are those of POSIX")
def test_a_record_that_others_could_read_is_closed_to_them(tmp_path: Path) -> None:
    """One that an earlier version made; the folder is the person's, and stays as it is."""
    file = tmp_path / "record.sqlite"
    Store(file).close()
    file.chmod(0o644)
    tmp_path.chmod(0o755)
    Store(file).close()

    assert (rights(file), rights(tmp_path)) == (0o600, 0o755)


def test_the_programs_own_folder_is_closed_to_others(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Though it stood before."""
    monkeypatch.setattr("server.records.record_file.user_data_path", lambda _: tmp_path)
    tmp_path.chmod(0o755)
    make_private_folder(tmp_path)

    assert rights(tmp_path) == 0o700


@pytest.mark.parametrize(
    "lose",
    [
        Path.unlink,
        lambda file: file.rename(file.with_name("elsewhere")),
        lambda file: shutil.copy(file, file.with_name("new")) and file.with_name("new").replace(file),
    ],
    ids=["deleted", "moved", "replaced"],
)
def test_nothing_is_written_once_the_file_is_gone(tmp_path: Path, lose: object) -> None:
    """What SQLite would write into a file that nobody finds again."""
    file = tmp_path / "record.sqlite"
    store = Store(file)
    run_id = store.begin_run(SCAN)
    assert callable(lose)
    lose(file)

    with pytest.raises(StoreError, match="was moved, deleted or replaced while it was in use"):
        store.keep(run_id, 0, Notice("Lost."))
    with pytest.raises(StoreError):
        store.check()
    store.close()
