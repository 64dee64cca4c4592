"""The demo: an invented club's season on a throw-away database, served to this machine alone."""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import NoReturn

from fastapi import FastAPI

from service.app import create_app
from service.cli.alone import serving_alone
from service.cli.copying import back_up, contents_of, restore_from
from service.cli.demo_folder import mark_begun, mark_told, opened_again
from service.cli.season import DEMO_DIR, Season, StoryClock, load_season, moment, read_settings
from service.cli.serving import listen, run
from service.cli.upkeep import audit, prepare
from service.lib.settings import Settings

LOOPBACK = "127.0.0.1"
PORT = 8000


@dataclass(frozen=True)
class Loaded:
    """A demo that was told, and the app that shows it."""

    app: FastAPI
    season: Season
    seconds: float
    again: bool = False


def run_demo(port: int | None, *, drill: bool, fresh: bool = False) -> int:
    """Load the demo and serve it until Ctrl-C; with `drill`, back it up, restore it elsewhere, compare, and stop."""
    _stop_kindly()
    with _folder(drill=drill) as folder:
        if drill:
            return _drill(folder)
        with contextlib.suppress(KeyboardInterrupt):
            _serve(settings_for(folder, port), fresh=fresh)
    print("\nThe demo has stopped.")
    return 0


def settings_for(folder: Path, port: int | None = None) -> Settings:
    """Loopback and the demo's own today, whatever else is set; the port told, else PORT, else 8000."""
    wanted = port if port is not None else int(os.environ.get("PORT") or PORT)
    told = read_settings(DEMO_DIR)
    ours = {
        "data_dir": folder, "host": LOOPBACK, "port": wanted, "secure_cookies": False,
        "fixed_now": moment(told["now"], told["club"]["zone"]),
    }  # fmt: skip
    return Settings().model_copy(update=ours)


def load_demo(settings: Settings, *, fresh: bool = False) -> Loaded:
    """Open the demo that is kept here, or make the database and tell the season to it. Ends where there is a club."""
    began = time.monotonic()
    kept = opened_again(settings, fresh=fresh)
    told = read_settings(DEMO_DIR)
    clock = StoryClock(kept.now if kept else moment(told["begins"], told["club"]["zone"]))
    if kept is None:
        mark_begun(settings)
    prepare(settings, clock)
    season = kept or _tell(settings, clock)
    app = create_app(settings, clock=clock, background=True)
    mark_told(settings, season, season.now)
    clock.run_on_from(season.now)
    return Loaded(app, season, time.monotonic() - began, again=kept is not None)


def _tell(settings: Settings, clock: StoryClock) -> Season:
    """The season, told without waiting for the disk at each deed: a telling that is cut off is begun anew, not mended."""
    app = create_app(settings.model_copy(update={"sqlite_synchronous": "OFF"}), clock=clock)
    try:
        return load_season(app.state.writer, clock)
    finally:
        app.state.database.close()


# -- serving -------------------------------------------------------------------------------------------------------


def _serve(settings: Settings, *, fresh: bool) -> None:
    listening = listen(settings.host, settings.port)
    with serving_alone(settings):
        _serve_alone(settings, listening, fresh=fresh)


def _serve_alone(settings: Settings, listening: socket.socket, *, fresh: bool) -> None:
    print("Loading an invented club's season …", flush=True)
    loaded = load_demo(settings, fresh=fresh)
    listening.listen()  # whoever opens the address at once waits a moment rather than being refused
    print(welcome(loaded, f"http://{LOOPBACK}:{listening.getsockname()[1]}"), flush=True)
    try:
        run(loaded.app, listening)
    finally:
        if settings.data_dir.exists():
            mark_told(settings, loaded.season, loaded.app.state.clock.now())


def welcome(loaded: Loaded, address: str) -> str:
    """What to open, whom to be, and what is worth looking at."""
    season, codes = loaded.season, loaded.season.codes
    width = max(len(shown.sign_in_name) for shown in season.sign_ins)
    people = [
        f"  {shown.sign_in_name:<{width}}  {shown.role.replace('_', ' ')}: {shown.name}"
        for shown in season.sign_ins
    ]
    tree_id, stop_id = season.ids["tree", "williams-1"], season.ids["stop", "blight"]
    worth = [
        (f"/T/{codes['cox-26.1']}", "a bundle, as its tag shows it to a stranger"),
        (f"/T/{codes['zoltan-williams-26']}", "a bundle of the stopped pear, in somebody's hands"),
        (f"/T/{codes['williams-1']}", "the stopped tree itself"),
        (f"/T/{codes['g-interstem.1']}", "a plant on an interstem: two woods and a stock"),
        (f"/T/{codes['ashmead-2']}", "a tree that was grafted last spring and gave wood this winter"),
        (f"/stops/{stop_id}", "what the stop binds and whom to tell (as ifeoma)"),
        (f"/trees/{tree_id}", "the stopped tree with all that came of it (signed in)"),
    ]
    return "\n".join(
        [
            f"The demo is at {address} ({'opened again' if loaded.again else 'loaded'} in {loaded.seconds:.1f} s).",
            f"Everything in it is invented, and its today is {season.now.day} {season.now:%B %Y}.",
            "It is for this machine alone; without SCION_DATA_DIR nothing of it is kept, and with it --fresh begins anew.",
            "", f"Sign in at {address}/sign-in, everybody with the password: {season.password}", *people, "", "Worth opening:",
*(f"  {address}{path}  {words}" for path, words in worth), "", "Ctrl-C stops it.",
        ]
    )  # fmt: skip


@contextlib.contextmanager
def _folder(*, drill: bool) -> Iterator[Path]:
    """The folder that was set, or one that is gone afterwards; a drill always has its own."""
    told = os.environ.get("SCION_DATA_DIR")
    if told and not drill:
        yield Path(told)
        return
    with tempfile.TemporaryDirectory(prefix="scion-demo-", ignore_cleanup_errors=True) as made:
        yield Path(made)


def _stop_kindly() -> None:
    """End on a termination signal as on Ctrl-C, so that the throw-away folder goes too."""

    def end(_signal: int, _frame: FrameType | None) -> NoReturn:
        raise KeyboardInterrupt

    signal.signal(signal.SIGTERM, end)


# -- the drill -----------------------------------------------------------------------------------------------------


def _drill(folder: Path) -> int:
    """Load, back up, restore into another folder, and prove that both are the same."""
    first = settings_for(folder / "club", 0).model_copy(update={"database_url": ""})
    second = first.model_copy(update={"data_dir": folder / "restored"})
    loaded = load_demo(first)
    print(f"Loaded in {loaded.seconds:.1f} s.")
    loaded.app.state.database.close()
    urls = [settings.resolved_database_url() for settings in (first, second)]
    before = contents_of(urls[0])
    if back_up(folder / "back-up.zip", first) or restore_from(folder / "back-up.zip", second):
        return 1
    audits = [audit(url) for url in urls]
    after = contents_of(urls[1])
    wrong = sorted(name for name in before.keys() | after.keys() if before.get(name) != after.get(name))
    for name in wrong:
        print(f"  differs: {name}", file=sys.stderr)
    same_secret = first.secret() == second.secret()
    good = not wrong and same_secret and audits[0] == audits[1] and audits[0].clean
    rows = sum(told["rows"] for told in before.values())
    print(f"Compared {len(before)} tables and {rows:,} rows: {'all the same' if good else 'NOT the same'}.")
    return 0 if good else 1
