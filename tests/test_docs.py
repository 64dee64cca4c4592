"""What the documents tell to type exists and works: the README's lines word by word, against the demo."""

from __future__ import annotations

import json
import os
import re
import shlex
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest

import service.migrations.tables  # noqa: F401  (every stage's tables)
from service.cli.demonstrating import Loaded, load_demo
from service.lib.database import metadata
from service.lib.settings import Settings
from service.members.rules import May, Role
from service.trees.schemas.air import MOST_DAYS
from tests.builders.members import make_asker, make_token
from tests.infra.demo import kept_demo
from tests.infra.web import live

CHECKOUT = Path(__file__).resolve().parents[1]
README = (CHECKOUT / "README.md").read_text(encoding="utf-8")
CALLS = re.findall(r"(?m)^    (curl .+)$", README)
YEAR = (CHECKOUT / "docs" / "how-to" / "steward-the-year.md").read_text(encoding="utf-8")
LINK = re.compile(r"\]\((?!https?:)([^)#]+)")


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Loaded, str, str]]:
    """The demo on a real server, and a token with the rights the README names."""
    loaded = load_demo(kept_demo(tmp_path_factory.mktemp("demo")))
    steward = make_asker(loaded.app.state.writer, Role.STEWARD)
    token = make_token(loaded.app.state.writer, steward, May.READ, May.HAND_OVER).token
    with live(loaded.app) as address:
        yield loaded, address, token


def run(line: str, told: dict[str, str]) -> Any:
    """The very line, by curl in a shell; where there is no curl, the same request by other means."""
    if shutil.which("curl") and os.name == "posix":
        done = subprocess.run(
            ["sh", "-c", f"{line} --fail-with-body --noproxy '*'"], env={**os.environ, **told}, check=False, capture_output=True, text=True,
        )  # fmt: skip
        assert done.returncode == 0, f"{line}\n{done.stdout}{done.stderr}"
        return json.loads(done.stdout)
    words = shlex.split(re.sub(r"\$(\w+)", lambda found: told[found[1]], line))[1:]
    headers, body, address = {}, None, ""
    while words:
        word = words.pop(0)
        if word == "-H":
            name, _, value = words.pop(0).partition(": ")
            headers[name] = value
        elif word == "-d":
            body = words.pop(0)
        elif word != "-s":
            address = word
    answer = httpx.request("POST" if body else "GET", address, headers=headers, content=body, trust_env=False)
    assert answer.is_success, answer.text
    return answer.json()


def test_every_curl_line_of_the_readme_does_what_it_says(shown: tuple[Loaded, str, str]) -> None:
    loaded, address, token = shown
    told = {"CLUB": address, "TOKEN": token, "CODE": loaded.season.codes["cox-26.1"]}
    tag, bundles, bundle, names, hand_over, balance = CALLS

    scanned = run(tag, told)
    listed = run(bundles, told)["items"]
    told["BUNDLE"] = listed[0]["id"]
    told["COLLECTION"] = run(bundle, told)["collection_id"]
    people = run(names, told)["items"]
    everybody = httpx.get(
        f"{address}/api/parties/names?limit=200", headers={"Authorization": f"Bearer {token}"}
    ).json()["items"]
    told["PARTY"] = next(each["id"] for each in everybody if each["name"] == "Linnéa Åkerwood")
    first = run(hand_over, told)
    again = run(hand_over, told)
    sticks = run(balance, told)

    assert scanned["code"] == told["CODE"]
    assert 1 <= len(listed) <= 3
    assert {"id", "name"} <= people[0].keys()
    assert again == first
    assert sticks["on_hand"] > 0


def test_the_line_that_sends_the_air_of_a_site_does_what_it_says(shown: tuple[Loaded, str, str]) -> None:
    loaded, address, _ = shown
    steward = make_asker(loaded.app.state.writer, Role.STEWARD)
    token = make_token(loaded.app.state.writer, steward, May.READ, May.TREES).token
    headers = {"Authorization": f"Bearer {token}"}
    site = httpx.get(f"{address}/api/sites", headers=headers).json()["items"][0]["id"]
    (line,) = re.findall(r"(?m)^    (curl .+)$", YEAR)

    taken = run(line, {"CLUB": address, "TOKEN": token, "SITE": site})

    days = {"from_day": "2026-02-19", "until_day": "2026-02-20"}
    air = httpx.get(f"{address}/api/sites/{site}/air", headers=headers, params=days).json()["days"]
    assert taken["new"] + taken["same"] + taken["changed"] == 2
    assert [(each["lowest_c"], each["highest_c"]) for each in air] == [(-1.5, 6), (0.5, 8.5)]
    assert f"{MOST_DAYS:,}" in YEAR


@pytest.mark.parametrize(
    "page", ["README.md", "DEVELOPERS.md", *sorted(str(path.relative_to(CHECKOUT)) for path in (CHECKOUT / "docs").rglob("*.md"))]
)  # fmt: skip
def test_every_link_of_a_page_leads_somewhere(page: str) -> None:
    path = CHECKOUT / page
    broken = [
        link for link in LINK.findall(path.read_text(encoding="utf-8")) if not (path.parent / link).exists()
    ]

    assert broken == []


def test_every_command_that_a_page_names_exists() -> None:
    from service.cli import app

    known = {
        name or command.callback.__name__ for command in app.registered_commands for name in [command.name]
    }  # type: ignore[union-attr]
    pages = [CHECKOUT / "README.md", CHECKOUT / "DEVELOPERS.md", *(CHECKOUT / "docs").rglob("*.md")]
    named = {
        word
        for page in pages
        for word in re.findall(r"-m service ([a-z][a-z-]*)", page.read_text(encoding="utf-8"))
    }

    assert {"serve", "backup", "restore", "move-to-postgres", "check"} <= named
    assert named <= known


# -- the samples of deploy/ --------------------------------------------------------------------------------------------

SAMPLES = (
    "scion.service",
    "scion-backup.service",
    "scion-backup.timer",
    "Caddyfile",
    "Containerfile",
    "compose.yaml",
)


@pytest.mark.parametrize("name", SAMPLES)
def test_a_sample_says_whether_it_was_tried_and_names_only_settings_there_are(name: str) -> None:
    text = (CHECKOUT / "deploy" / name).read_text(encoding="utf-8")
    known = {f"SCION_{setting.upper()}" for setting in Settings.model_fields}

    assert re.search(r"(?i)\btried\b", "".join(text.splitlines(keepends=True)[:2]))
    assert set(re.findall(r"SCION_[A-Z_]+", text)) <= known


def test_the_units_start_commands_there_are() -> None:
    units = [(CHECKOUT / "deploy" / name).read_text(encoding="utf-8") for name in SAMPLES[:2]]
    started = [re.findall(r"(?m)^ExecStart=\S+/python -m service (\S+)", unit) for unit in units]

    assert started == [["serve"], ["backup"]]


def test_the_container_file_copies_what_there_is() -> None:
    text = (CHECKOUT / "deploy" / "Containerfile").read_text(encoding="utf-8")
    copied = [word for line in re.findall(r"(?m)^COPY (.+) \S+$", text) for word in line.split()]

    assert {"service", "fixtures", "deploy", "pyproject.toml"} <= set(copied)
    assert [name for name in copied if not (CHECKOUT / name).exists()] == []


@pytest.mark.parametrize("name", [name for name in SAMPLES if name.startswith("scion")])
def test_every_line_of_a_unit_is_one(name: str) -> None:
    lines = (CHECKOUT / "deploy" / name).read_text(encoding="utf-8").splitlines()

    assert [line for line in lines if line and not re.fullmatch(r"#.*|\[\w+\]|[A-Z]\w+=.*", line)] == []


# -- the glossary --------------------------------------------------------------------------------------------------------

GLOSSARY = (CHECKOUT / "docs" / "glossary.md").read_text(encoding="utf-8")
ENTRIES = re.findall(r"(?m)^\| (?!word|---)([^|]+) \| ([^|]+) \|$", GLOSSARY)


def test_the_glossary_tells_every_thing_the_record_keeps() -> None:
    said = re.sub(r"[-\s]+", " ", GLOSSARY.lower())
    missing = [table for table in metadata.tables if not re.search(rf"\b{table.replace('_', ' ')}s?\b", said)]

    assert len(metadata.tables) > 50
    assert missing == []


def test_the_glossary_tells_every_role_and_no_word_twice() -> None:
    words = [word.split(" (")[0] for word, _ in ENTRIES]

    assert len(words) == len(set(words)) > 60
    assert [role for role in Role if role.value.replace("_", " ") not in GLOSSARY] == []
    assert all(len(meaning) > 10 for _, meaning in ENTRIES)
