"""Shared by `demo` and `test`: a Python new enough, a virtual environment, and the locked packages in it.

Standard library only, and written so that an old Python can still read it and say what is wrong.
"""

import hashlib
import os
import re
import shutil
import subprocess
import sys
import time

LEAST = (3, 11)
HERE = os.path.dirname(os.path.abspath(__file__))
CHECKOUT = os.path.dirname(HERE)
VENV = os.path.join(CHECKOUT, ".venv")
LOCK = os.path.join(HERE, "requirements.lock")
PYTHON = os.path.join(
    VENV, "Scripts" if os.name == "nt" else "bin", "python.exe" if os.name == "nt" else "python"
)
NO_VENV = (
    """\
This Python cannot make a virtual environment with pip in it. Any one of these helps:
  - install the package that holds it (Debian, Ubuntu: python3-venv), or
  - put `virtualenv` or `uv` on the PATH, or
  - use another Python %d.%d or newer that has `venv` and `ensurepip`.
"""
    % LEAST
)


def stop(message):
    """End with a message for a person, not a traceback."""
    sys.stdout.flush()
    sys.exit("\n" + message.rstrip() + "\n")


def need_python():
    """Go on under a Python that is new enough, looking on the PATH where this one is too old."""
    if sys.version_info >= LEAST:
        return
    for minor in range(19, LEAST[1] - 1, -1):
        other = shutil.which("python3.%d" % minor)
        if other and subprocess.call([other, "-c", "import venv"]) == 0:
            os.execv(other, [other] + sys.argv)
    stop("Python %d.%d or newer is needed; this is %s." % (LEAST + (sys.version.split()[0],)))


def environment():
    """This process's environment, with the checkout in front of whatever else Python would import."""
    kept = {
        name: value
        for name, value in os.environ.items()
        if name not in ("PYTHONHOME", "PYTHONSAFEPATH", "VIRTUAL_ENV")
    }
    kept["PYTHONPATH"] = CHECKOUT
    kept["PATH"] = os.path.dirname(PYTHON) + os.pathsep + kept.get("PATH", os.defpath)
    return kept


def prepare(everything):
    """Make `.venv` with the locked packages, all of them or only those the service itself needs."""
    with open(LOCK, encoding="utf-8") as file:
        lock = file.read()
    told = "\n".join([VENV, hashlib.sha256(lock.encode()).hexdigest()])
    stamps = [os.path.join(VENV, ".has-everything"), os.path.join(VENV, ".has-service")]
    wanted = stamps[:1] if everything else stamps
    sound = _is_sound()
    if sound and any(_read(stamp) == told for stamp in wanted):
        return
    began = time.monotonic()
    print("Setting up .venv (the first time only; this fetches packages) ...", flush=True)
    if not sound:
        _make_venv()
    _install(lock if everything else needed_by_service(lock))
    with open(wanted[-1], "w", encoding="utf-8") as file:
        file.write(told)
    print("Set up in %.0f s." % (time.monotonic() - began), flush=True)


def _read(path):
    try:
        with open(path, encoding="utf-8") as file:
            return file.read()
    except OSError:
        return ""


def _is_sound():
    """Whether `.venv` stands, belongs to this very folder, and its Python still runs."""
    # A copied or moved checkout brings an environment whose programs point to the old place.
    if VENV not in _read(os.path.join(os.path.dirname(PYTHON), "activate")):
        return False
    return _runs([PYTHON, "-c", "import sys, pip; sys.exit(sys.version_info < %r)" % (LEAST,)])


def _make_venv():
    for way in _ways():
        shutil.rmtree(VENV, ignore_errors=True)
        if all(_runs(command) for command in way):
            return
    shutil.rmtree(VENV, ignore_errors=True)
    if not os.access(CHECKOUT, os.W_OK):
        stop(
            "The folder %s cannot be written to by this user, and the virtual environment belongs in it."
            % CHECKOUT
        )
    stop(NO_VENV)


def _ways():
    """Commands that make `.venv` with pip in it, the plain way first; some systems split these parts from Python."""
    plain = [sys.executable, "-m", "venv", VENV]
    yield [plain]
    yield [
        [*plain, "--without-pip"],
        [sys.executable, "-m", "pip", "--python", PYTHON, "install", "--quiet", "pip"],
    ]
    yield [["virtualenv", "--quiet", "--python", sys.executable, VENV]]
    yield [["uv", "venv", "--quiet", "--seed", "--python", sys.executable, VENV]]
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        yield [["apt-get", "update", "-qq"], ["apt-get", "install", "-y", "-qq", "python3-venv"], plain]


def _runs(command):
    try:
        return subprocess.call(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) == 0
    except OSError:
        return False


def _install(requirements):
    listed = os.path.join(VENV, "requirements.txt")
    with open(listed, "w", encoding="utf-8") as file:
        file.write(requirements)
    # The lock names every package there is to install, so there is nothing left to resolve.
    command = [PYTHON, "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "--no-input"]
    command += ["--require-hashes", "--no-deps", "--no-compile", "-r", listed]
    done = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, universal_newlines=True)
    if done.returncode:
        stop(
            "The locked packages could not be installed:\n%s\nIs the network reachable? Run the command again."
            % done.stdout
        )


def needed_by_service(lock):
    """The part of the lock that the service needs to run, without what only the tests use."""
    import tomllib  # not in a Python too old to get this far

    with open(os.path.join(CHECKOUT, "pyproject.toml"), "rb") as file:
        named = tomllib.load(file)["project"]["dependencies"]
    needed = {_plain(re.match(r"[\w.-]+", name).group()) for name in named}
    # A package may stand there once for each range of Pythons; the installer takes the one that fits.
    blocks = {}
    for block in re.split(r"(?m)^(?=[\w.-]+==)", lock):
        if "==" in block:
            name = _plain(block.split("==")[0])
            blocks[name] = blocks.get(name, "") + block
    # Below each package stand, as comments, the packages that asked for it.
    asked_by = {
        name: {_plain(by) for by in re.findall(r"(?m)^    #(?: via)? +([\w.-]+)", block)}
        for name, block in blocks.items()
    }
    growing = True
    while growing:
        more = {name for name in blocks if name not in needed and asked_by[name] & needed}
        growing = bool(more)
        needed |= more
    return "".join(block for name, block in blocks.items() if name in needed)


def _plain(name):
    return re.sub(r"[-_.]+", "-", name.strip()).lower()
