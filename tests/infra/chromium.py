"""A Chromium for the page tests: found on this machine, or brought to it."""

from __future__ import annotations

import base64
import contextlib
import hashlib
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

from playwright._impl._driver import compute_driver_executable
from playwright.sync_api import Browser, Playwright

from tests.infra.packages import apt_get

CHECKOUT = Path(__file__).resolve().parents[2]
CACHE = CHECKOUT / ".cache" / "chromium"
NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
PLACES = (
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
)
ARGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]
PACKAGE = "@sparticuz/chromium@153.0.0"
PACKAGE_SHA512 = "jiGWqSvPMdu4+P9TilYqAR7yEGPEHINx+lCvE/NqNO/EHYzF/x1hUiI5T6ioVIt7dEy7n88byyT0vk+dnsgQwA=="
UNPACK = (
    "const fs = require('fs'), zlib = require('zlib');"
    "for (const name of process.argv.slice(1))"
    " fs.writeFileSync(name.slice(0, -3), zlib.brotliDecompressSync(fs.readFileSync(name)));"
)
FONTS = """<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd">
<fontconfig><dir>{here}/fonts</dir><cachedir>{here}/fonts-cache</cachedir></fontconfig>
"""
LAUNCHER = """#!/bin/sh
export LD_LIBRARY_PATH="{here}/lib${{LD_LIBRARY_PATH:+:$LD_LIBRARY_PATH}}"
[ -e /etc/fonts/fonts.conf ] || export FONTCONFIG_FILE="{here}/fonts.conf"
exec "{here}/programs/chromium" "$@"
"""
HELP = (
    "The page tests need Chromium and found none that runs.\n"
    "Install chromium (or Chrome), or set SCION_TEST_CHROMIUM to its program; on Linux, npm on the PATH is enough:\n"
    "deploy/test then brings a Chromium into .cache/ by itself."
)
DRIVER_HELP = (
    "The page tests drive their browser through a Node.js of their own, which does not start on this machine:\n{said}\n"
    "Install the library it misses (Debian, Ubuntu: libatomic1), or put a `node` on the PATH."
)


class NoChromium(RuntimeError):
    """No browser on this machine, and what to do about it."""


def _candidates() -> Iterator[str]:
    for name in NAMES:
        found = shutil.which(name)
        if found:
            yield found
    yield from (place for place in PLACES if Path(place).exists())
    if (CACHE / "chromium").exists():
        yield str(CACHE / "chromium")


def _runs(program: str) -> bool:
    # Some distributions put a stub on the PATH that only tells how to install the real one.
    try:
        done = subprocess.run([program, "--version"], check=False, capture_output=True, text=True, timeout=60)
    except (OSError, subprocess.SubprocessError):
        return False
    return done.returncode == 0 and "Chrom" in done.stdout


def find() -> str:
    """The program of a Chromium that runs, or a failure that says what to do. Nothing is installed."""
    told = os.environ.get("SCION_TEST_CHROMIUM")
    if told:
        if _runs(told):
            return told
        raise NoChromium(f"SCION_TEST_CHROMIUM is set to {told}, which is not a Chromium that runs.\n{HELP}")
    for program in _candidates():
        if _runs(program):
            return program
    raise NoChromium(HELP)


def check_driver() -> None:
    """Raises `NoChromium` where what speaks to the browser does not start itself."""
    node, _ = compute_driver_executable()
    try:
        done = subprocess.run([node, "--version"], check=False, capture_output=True, text=True, timeout=60)
        said = "" if done.returncode == 0 else done.stderr
    except (OSError, subprocess.SubprocessError) as error:
        said = str(error)
    if said:
        raise NoChromium(DRIVER_HELP.format(said=said.strip()))


def _bring_driver() -> None:
    with contextlib.suppress(NoChromium):
        check_driver()
        return
    apt_get("libatomic1", "What drives the browser misses a library; installing it.")
    with contextlib.suppress(NoChromium):
        check_driver()
        return
    if node := shutil.which("node"):
        os.environ["PLAYWRIGHT_NODEJS_PATH"] = node
    check_driver()


def bring() -> str:
    """The same, but where none is found one is installed (as root) or unpacked into `.cache/` (anybody)."""
    _bring_driver()
    for help_it in (None, _install, _unpack):
        if help_it:
            help_it()
        try:
            return find()
        except NoChromium:
            if os.environ.get("SCION_TEST_CHROMIUM"):
                raise
    raise NoChromium(HELP)


def _install() -> None:
    apt_get("chromium", "Chromium is not here; installing it.")


def _unpack() -> None:
    npm, node = shutil.which("npm"), shutil.which("node")
    if not npm or not node or sys.platform != "linux":
        return
    print("Chromium is not here; unpacking one into .cache/.", flush=True)
    shutil.rmtree(CACHE, ignore_errors=True)
    CACHE.mkdir(parents=True)
    environment = {
        **os.environ,
        "npm_config_cache": str(CACHE / "npm"),
        "npm_config_update_notifier": "false",
    }
    done = subprocess.run(
        [npm, "pack", "--silent", PACKAGE],
        cwd=CACHE,
        env=environment,
        check=False,
        capture_output=True,
        text=True,
    )
    packed = next(CACHE.glob("*.tgz"), None)
    if packed is None:
        print(f"npm could not fetch {PACKAGE}:\n{done.stderr}", flush=True)
        return
    seen = base64.b64encode(hashlib.sha512(packed.read_bytes()).digest()).decode()
    if seen != PACKAGE_SHA512:
        raise NoChromium(f"{PACKAGE} is not what was expected: its SHA-512 is {seen}.")
    _open_package(packed, node)
    shutil.rmtree(CACHE / "npm", ignore_errors=True)


def _open_package(packed: Path, node: str) -> None:
    _untar(packed, CACHE)
    packed.unlink()
    binaries = CACHE / "package" / "bin"
    subprocess.run([node, "-e", UNPACK, *sorted(map(str, binaries.glob("*.br")))], check=True)
    programs = CACHE / "programs"
    programs.mkdir()
    (binaries / "chromium").rename(programs / "chromium")
    (programs / "chromium").chmod(0o755)
    for name, place in (("al2023", CACHE), ("fonts", CACHE), ("swiftshader", programs)):
        _untar(binaries / f"{name}.tar", place)
    shutil.rmtree(CACHE / "package")
    (CACHE / "fonts.conf").write_text(FONTS.format(here=CACHE))
    launcher = CACHE / "chromium"
    launcher.write_text(LAUNCHER.format(here=CACHE))
    launcher.chmod(0o755)


def _untar(archive: Path, place: Path) -> None:
    subprocess.run(["tar", "-xf", archive, "-C", place], check=True)


def launch(playwright: Playwright, *more_args: str) -> Browser:
    """A headless browser; further arguments are for tests that need their own, as a camera from a file."""
    return playwright.chromium.launch(executable_path=find(), args=[*ARGS, *more_args])
