"""Reference pages cannot age: each equals what the code says now, and leaves nothing out."""

from __future__ import annotations

import csv
import re
import xml.etree.ElementTree as Xml
from collections.abc import Callable

import pytest
from fastapi.routing import APIRoute, iter_route_contexts

from service.app import create_app
from service.cli.reference import FOLDER, PAGES
from service.cli.reference.routes import every_route
from service.cli.reference.states import CYCLES
from service.cli.reference.steps import draw_steps
from service.lib.errors import Problem, Refused, every_problem
from service.lib.settings import CHECKOUT, Settings
from service.members.rules import ROLE_MAY, May, Role
from tests.infra.web import Client

REFERENCE = FOLDER / "reference"


@pytest.mark.parametrize("name", sorted(PAGES))
def test_a_reference_page_says_what_the_code_says(name: str) -> None:
    written = (FOLDER / name).read_text(encoding="utf-8")

    assert written == PAGES[name](), "run `python -m service reference`"


def test_no_page_of_the_reference_is_left_over() -> None:
    kept = {f"reference/{path.name}" for path in REFERENCE.iterdir()}
    kept |= {f"pictures/{path.name}" for path in (FOLDER / "pictures").glob("states-*")}

    assert kept == set(PAGES)


def test_every_route_stands_in_the_reference(data_dir) -> None:
    app = create_app(Settings(data_dir=data_dir))
    app.state.database.close()
    served = {
        (method, route.path_format)
        for route in iter_route_contexts(app.routes)
        if isinstance(route.original_route, APIRoute)
        for method in route.methods or ()
    }
    told = re.findall(
        r"(?m)^\| ([A-Z]+) \| `([^`]+)` \| (\S[^|]*\.) \| (\S[^|]*) \|",
        PAGES["reference/routes.md"]() + PAGES["reference/pages.md"](),
    )

    assert len(served) > 200
    assert {(method, path) for method, path, _, _ in told} == served


def test_the_rights_that_are_told_are_those_that_the_matrix_tries() -> None:
    """Whom the pages name, and whom the routes were seen to let in: where no right is named, a plain member gets in."""
    with (CHECKOUT / "tests" / "season" / "matrix.csv").open(encoding="utf-8", newline="") as file:
        tried = {(row["method"], row["route"]): row for row in csv.DictReader(file)}
    wrong = []
    for route in every_route():
        seen = tried[route.method, route.path]
        named = [right for right in May if f"`{right.value}`" in route.who]
        for role in Role:
            has_one = not ROLE_MAY[role].isdisjoint(named) if named else True
            if seen[role.value] == "yes" and not has_one:
                wrong.append(f"{route.method} {route.path}: {role} gets in without {route.who}")
        if not named and seen["member"] == "no":
            wrong.append(f"{route.method} {route.path}: no right is told, and a member is refused")

    assert wrong == []


def test_no_two_problems_share_an_address() -> None:
    kinds = set(every_problem())

    assert len({kind.slug() for kind in kinds}) == len(kinds) > 100


# -- where a problem's type leads --------------------------------------------------------------------------------------


@pytest.mark.databases("sqlite")
def test_the_type_of_every_problem_opens_a_page_that_tells_it(client: Callable[[str], Client]) -> None:
    stranger = client("stranger")
    wrong = []
    for kind in every_problem():
        answer = stranger.get(f"/problems/{kind.slug()}", headers={"Accept": "text/html"})
        if answer.status_code != 200 or f"/problems/{kind.slug()}" not in answer.text:
            wrong.append(kind.slug())

    assert wrong == []
    assert "/problems/not-enough-sticks" in stranger.get("/problems", headers={"Accept": "text/html"}).text


@pytest.mark.databases("sqlite")
def test_a_real_problem_leads_there(client: Callable[[str], Client]) -> None:
    problem = client("stranger").get("/api/bundles").json()

    page = client("stranger").get(problem["type"], headers={"Accept": "text/html"})

    assert page.status_code == 200
    assert problem["title"] in page.text


@pytest.mark.databases("sqlite")
def test_an_unknown_problem_is_told(client: Callable[[str], Client]) -> None:
    answer = client("stranger").get("/problems/rain", headers={"Accept": "text/html"})

    assert answer.status_code == 404
    assert "/problems" in answer.text


@pytest.mark.databases("sqlite")
@pytest.mark.parametrize("path", ["/problems", "/problems/not-enough-sticks"])
def test_a_problem_s_page_costs_a_stranger_one_statement(
    path: str, client: Callable[[str], Client], statements
) -> None:
    stranger = client("stranger")

    with statements.at_most(1):
        assert stranger.get(path, headers={"Accept": "text/html"}).status_code == 200


def test_kinds_of_tests_are_no_kinds_of_the_service() -> None:
    class OfATest(Refused):
        pass

    assert issubclass(OfATest, Problem)
    assert OfATest not in set(every_problem())


# -- the pictures ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("cycle", CYCLES, ids=[cycle.slug for cycle in CYCLES])
def test_a_picture_shows_every_state_and_every_step(cycle) -> None:
    steps = cycle.steps()
    picture = Xml.fromstring(draw_steps(cycle.name, steps))
    space = "{http://www.w3.org/2000/svg}"

    assert [text.text for text in picture.iter(f"{space}text")] == [
        state.replace("_", " ") for state in steps
    ]
    arrows = [path for path in picture.iter(f"{space}path") if path.get("marker-end")]
    assert len(arrows) == sum(len(after) for after in steps.values())
    width, height = int(picture.get("width", 0)), int(picture.get("height", 0))
    for box in picture.iter(f"{space}rect"):
        assert 0 <= int(box.get("x", -1)) <= width - int(box.get("width", 0))
        assert 0 <= int(box.get("y", -1)) <= height - int(box.get("height", 0))
    for arrow in arrows:
        numbers = [int(number) for number in re.findall(r"\d+", arrow.get("d", ""))]
        assert max(numbers) <= max(width, height)


def test_the_states_are_those_of_the_rules() -> None:
    told = {cycle.slug: cycle.steps() for cycle in CYCLES}

    assert told["stop"] == {
        "suspected": {"confirmed", "cleared"}, "confirmed": {"cleared"}, "cleared": frozenset(),
    }  # fmt: skip
    assert told["invitation"]["open"] == {"used", "revoked", "expired"}
    assert told["plant"]["failed"] >= {"waiting", "gone"}
    assert told["tag"]["lost"] == frozenset()
