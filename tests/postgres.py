"""A real PostgreSQL for the tests, started in a folder of its own without a port; and the stores to test against.

Where no server is installed its tests are skipped, and say so; in a run with CI set that is a failure. On Debian the
package is `postgresql`. As root the server runs as the user that the package makes, for it does not run as root.
"""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import count
from pathlib import Path

import pytest

from wheelwork.shelf.store import Store, open_store

USER = "postgres"
NUMBERS = count(1)


class NoPostgres(RuntimeError):
    """No PostgreSQL server is installed here."""


@dataclass(frozen=True)
class Cluster:
    """A server of our own: its programs, and the folder that holds its files and its socket."""

    programs: Path
    folder: Path

    def make(self) -> None:
        """Set up its files."""
        if os.geteuid() == 0:
            owner = pwd.getpwnam(USER)
            os.chown(self.folder, owner.pw_uid, owner.pw_gid)
        self._run("initdb", "-A", "trust", "-U", USER, "-E", "UTF8", "--locale=C.UTF-8", "--no-sync", "-D", self._data)

    def start(self) -> None:
        """Start it and wait until it answers."""
        options = f"-k {self.folder} -c listen_addresses='' -c fsync=off -c max_connections=200"
        self._run("pg_ctl", "-D", self._data, "-w", "-l", str(self.folder / "log"), "-o", options, "start")

    def stop(self, how: str = "fast") -> None:
        """Stop it: `fast` as an administrator would, `immediate` as a machine that falls over."""
        self._run("pg_ctl", "-D", self._data, "-w", "-m", how, "stop")

    def address(self, database: str = "postgres") -> str:
        """The address of one of its databases, as `WHEELWORK_DATABASE` takes it."""
        return f"postgresql://{USER}@/{database}?host={self.folder}"

    @contextmanager
    def database(self) -> Iterator[str]:
        """The address of an empty database, for one test."""
        name = f"test_{next(NUMBERS)}"
        self._ask(f"CREATE DATABASE {name}")
        try:
            yield self.address(name)
        finally:
            self._ask(f"DROP DATABASE {name} WITH (FORCE)")

    @property
    def _data(self) -> str:
        return str(self.folder / "data")

    def _ask(self, statement: str) -> None:
        self._run("psql", "-X", "-q", "-h", str(self.folder), "-U", USER, "-d", "postgres", "-c", statement)

    def _run(self, program: str, *arguments: str) -> None:
        line = [str(self.programs / program), *arguments]
        if os.geteuid() == 0:
            line = ["runuser", "-u", USER, "--", *line]
        with tempfile.TemporaryFile() as said:  # a pipe would be held open by the server that stays
            done = subprocess.run(
                line, cwd=self.folder, stdin=subprocess.DEVNULL, stdout=said, stderr=said, check=False, timeout=100
            )
            said.seek(0)
            assert done.returncode == 0, f"{program}: {said.read().decode(errors='replace')}"


def find_programs() -> Path:
    """The folder with the newest server's programs. Raises NoPostgres."""
    versions = [path.parent for path in Path("/usr/lib/postgresql").glob("*/bin/initdb")]
    on_the_path = shutil.which("initdb")
    if versions:
        return max(versions, key=lambda folder: int(folder.parent.name))
    if on_the_path is None:
        raise NoPostgres("no PostgreSQL server is installed; on Debian, as root: apt-get install postgresql")
    return Path(on_the_path).parent


@contextmanager
def running_cluster() -> Iterator[Cluster]:
    """A server that runs for as long as it is needed. Raises NoPostgres."""
    programs = find_programs()
    with tempfile.TemporaryDirectory(prefix="wheelwork-pg-") as folder:  # short: a socket's path has 107 signs at most
        cluster = Cluster(programs, Path(folder))
        cluster.make()
        cluster.start()
        try:
            yield cluster
        finally:
            cluster.stop("immediate")


@pytest.fixture(scope="session")
def cluster() -> Iterator[Cluster]:
    """A PostgreSQL of this run. Who stops it starts it again."""
    try:
        find_programs()
    except NoPostgres as fault:
        (pytest.fail if os.environ.get("CI") else pytest.skip)(str(fault))
    with running_cluster() as running:
        yield running


@pytest.fixture
def database_url(cluster: Cluster) -> Iterator[str]:
    """The address of an empty PostgreSQL database of this test's own."""
    with cluster.database() as address:
        yield address


@pytest.fixture(params=["sqlite", "postgresql"])
def store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Store]:
    """An empty store of this test's own, of either kind."""
    database = request.getfixturevalue("database_url") if request.param == "postgresql" else ""
    opened = open_store(tmp_path / "shelf", database)
    yield opened
    opened.close()
