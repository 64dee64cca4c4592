"""Programs that the tests want and a bare machine may lack: put there by the system's own packages, where that can be."""

from __future__ import annotations

import os
import shutil
import subprocess


def apt_get(package: str, saying: str) -> None:
    """As root on a Debian-like machine, have a package put there; elsewhere do nothing."""
    if os.geteuid() != 0 or not shutil.which("apt-get"):
        return
    print(saying, flush=True)
    quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for command in (["update", "-qq"], ["install", "-y", "-qq", "--no-install-recommends", package]):
        subprocess.run(["apt-get", *command], env=quiet, check=False, stdout=subprocess.DEVNULL)
