"""The one lock holds what every platform needs, at versions the project allows, and nothing else."""

from __future__ import annotations

import re
import tomllib
from functools import cache
from importlib.metadata import PackageNotFoundError, requires
from pathlib import Path

import pytest
from packaging.markers import Marker
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

CHECKOUT = Path(__file__).resolve().parents[1]
LINE = re.compile(r"(?m)^([\w.-]+)==([\w.!+-]+)(?: ; ([^\\\n]+?))? \\$")
PYTHONS = ("3.11", "3.12", "3.13", "3.14")
SYSTEMS = {
    "linux": {"sys_platform": "linux", "platform_system": "Linux", "os_name": "posix", "platform_machine": "x86_64"},
    "linux-arm": {"sys_platform": "linux", "platform_system": "Linux", "os_name": "posix", "platform_machine": "aarch64"},
    "mac": {"sys_platform": "darwin", "platform_system": "Darwin", "os_name": "posix", "platform_machine": "arm64"},
    "windows": {"sys_platform": "win32", "platform_system": "Windows", "os_name": "nt", "platform_machine": "AMD64"},
}  # fmt: skip
PLATFORMS = [(system, python) for system in SYSTEMS for python in PYTHONS]


@cache
def locked() -> list[tuple[str, str, Marker | None]]:
    text = (CHECKOUT / "deploy" / "requirements.lock").read_text()
    return [
        (canonicalize_name(name), version, Marker(marker) if marker else None)
        for name, version, marker in LINE.findall(text)
    ]


@cache
def wanted() -> list[Requirement]:
    with (CHECKOUT / "pyproject.toml").open("rb") as file:
        project = tomllib.load(file)["project"]
    return [
        Requirement(told) for told in [*project["dependencies"], *project["optional-dependencies"]["dev"]]
    ]


def platform(system: str, python: str) -> dict[str, str]:
    return {
        **SYSTEMS[system], "python_version": python, "python_full_version": f"{python}.5", "implementation_name": "cpython",
        "platform_python_implementation": "CPython", "implementation_version": f"{python}.5", "extra": "",
    }  # fmt: skip


def on(where: dict[str, str]) -> dict[str, list[str]]:
    """The versions the installer would take there, by name."""
    found: dict[str, list[str]] = {}
    for name, version, marker in locked():
        if marker is None or marker.evaluate(where):
            found.setdefault(name, []).append(version)
    return found


def needed(where: dict[str, str]) -> dict[str, list[Requirement]]:
    """What is asked for there, directly and by what is asked for, as far as packages here tell."""
    waiting, asked, seen = list(wanted()), dict[str, list[Requirement]](), set[tuple[str, str]]()
    while waiting:
        one = waiting.pop()
        name = canonicalize_name(one.name)
        asked.setdefault(name, []).append(one)
        for extra in ("", *one.extras):
            if (name, extra) in seen:
                continue
            seen.add((name, extra))
            try:
                told = requires(one.name) or []
            except PackageNotFoundError:
                continue  # for another platform: what it needs itself is told there
            for each in map(Requirement, told):
                if each.marker is None or each.marker.evaluate({**where, "extra": extra}):
                    waiting.append(each)
    return asked


@pytest.mark.parametrize(("system", "python"), PLATFORMS)
def test_every_platform_gets_each_package_it_needs_once_and_at_a_version_that_fits(
    system: str, python: str
) -> None:
    have, asked = on(platform(system, python)), needed(platform(system, python))

    assert len(asked) > 60
    assert sorted(name for name in asked if name not in have) == []
    assert {name: versions for name, versions in have.items() if len(versions) != 1} == {}
    unfit = [
        f"{one} but {have[name][0]} is locked"
        for name, ones in asked.items() for one in ones if not one.specifier.contains(have[name][0], prereleases=True)
    ]  # fmt: skip
    assert unfit == []


def test_nothing_is_locked_that_no_platform_needs() -> None:
    asked = {name for system, python in PLATFORMS for name in needed(platform(system, python))}

    assert sorted({name for name, _, _ in locked()} - asked) == []


def test_a_lock_is_read_whole() -> None:
    text = (CHECKOUT / "deploy" / "requirements.lock").read_text()

    assert len(locked()) == len(re.findall(r"(?m)^[\w.-]+==", text)) > 90
