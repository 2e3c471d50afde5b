"""A private PostgreSQL for a test run: made in a folder of its own, reached by a socket there, and gone afterwards."""

import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from typing import Self

import psycopg
from psycopg import sql

DEBIAN = Path("/usr/lib/postgresql")
DEBIAN_USER = "postgres"
PATIENCE_S = 30.0
NAME = "peakwright"


def find_programs() -> Path | None:
    """Give the folder of the newest PostgreSQL server's programs; None where none is installed."""
    found = shutil.which("initdb")
    if found is not None:
        return Path(found).parent
    versions = [folder for folder in DEBIAN.glob("*/bin") if (folder / "initdb").exists()]
    return max(versions, key=lambda folder: float(folder.parent.name), default=None)


class Cluster:
    """One running server. It refuses to run as root, and so gets Debian's own user there."""

    def __init__(self, programs: Path) -> None:
        """Make and start it."""
        self.folder = Path(tempfile.mkdtemp(prefix="pw-"))  # short: a socket's path has room for 107 letters
        self._user = None if os.geteuid() else DEBIAN_USER
        self._numbers = count(1)
        if self._user is not None:
            owner = pwd.getpwnam(self._user)
            os.chown(self.folder, owner.pw_uid, owner.pw_gid)
        data = self.folder / "data"
        made: list[str | Path] = [
            programs / "initdb",
            "--pgdata",
            data,
            "--username",
            NAME,
            "--auth",
            "trust",
            "--no-sync",
        ]
        made += ["--encoding", "UTF8", "--locale", "C.UTF-8"]
        subprocess.run(made, check=True, capture_output=True, cwd="/", user=self._user)
        self._run: list[str | Path] = [programs / "postgres", "-D", data, "-k", self.folder, "-c", "listen_addresses="]
        self._run += [
            "-c",
            "fsync=off",
            "-c",
            "full_page_writes=off",
        ]  # the machine is not cut off from power in a test
        self._log = (self.folder / "log").open("wb")
        self._server = self._start()
        self._wait_until_it_answers()

    def _start(self) -> subprocess.Popen[bytes]:
        return subprocess.Popen(self._run, stdout=self._log, stderr=self._log, cwd="/", user=self._user)

    def restart(self) -> None:
        """End it, whoever is connected, and start it again."""
        self._server.send_signal(signal.SIGINT)
        self._server.wait(PATIENCE_S)
        self._server = self._start()
        self._wait_until_it_answers()

    def __enter__(self) -> Self:
        """Run."""
        return self

    def __exit__(self, *_: object) -> None:
        """End it at once, and leave nothing behind."""
        self._server.send_signal(signal.SIGINT)  # a fast shutdown: it does not wait for clients
        self._server.wait(PATIENCE_S)
        self._log.close()
        shutil.rmtree(self.folder)

    def url(self, database: str) -> str:
        """Give the address of a database, as --store takes it."""
        return f"postgresql://{NAME}@/{database}?host={self.folder}"

    @contextmanager
    def database(self) -> Iterator[str]:
        """Give the address of an empty database, which goes again."""
        name = f"record_{next(self._numbers)}"
        self._do(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))
        try:
            yield self.url(name)
        finally:
            self._do(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(name)))

    def _do(self, command: sql.Composed) -> None:
        with psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            connection.execute(command)

    def _wait_until_it_answers(self) -> None:
        deadline_s = time.monotonic() + PATIENCE_S
        while True:
            try:
                psycopg.connect(self.url("postgres")).close()
            except psycopg.OperationalError:
                assert self._server.poll() is None, (self.folder / "log").read_text(encoding="utf-8")
                assert time.monotonic() < deadline_s, "PostgreSQL does not answer"
                time.sleep(0.05)
            else:
                return
