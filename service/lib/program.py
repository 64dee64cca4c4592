"""Which version of the program runs."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version


def program_version() -> str:
    """As it was installed; empty where it runs from a bare folder."""
    try:
        return version("scion-service")
    except PackageNotFoundError:
        return ""
