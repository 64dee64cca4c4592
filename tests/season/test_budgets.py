"""Every route says how many statements it may send, and keeps to it; `budgets.csv` is the list.

Asked as the administrator, who is shown most, of a small club where everything is there once or twice. That a list costs
the same however long it is, is tested with its stage.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from anyio.from_thread import BlockingPortal

from tests.infra.statements import Statements, counting
from tests.infra.web import PortalTransport
from tests.season.filled_club import FilledClub, filled_club
from tests.season.test_matrix import FRAMEWORK, ROWS, ask

TABLE = Path(__file__).parent / "budgets.csv"
ROUTES = [row for row in ROWS if (row["method"], row["route"]) not in FRAMEWORK]


def _budgets() -> dict[tuple[str, str], int]:
    with TABLE.open(encoding="utf-8", newline="") as file:
        return {(row["method"], row["route"]): int(row["statements"]) for row in csv.DictReader(file)}


BUDGETS = _budgets()


@pytest.fixture(scope="module")
def club(makers, tmp_path_factory, portal: BlockingPortal) -> Iterator[FilledClub]:
    with filled_club(makers("sqlite").migrated(), tmp_path_factory.mktemp("budgets"), portal) as filled:
        yield filled


def asked(
    club: FilledClub, row: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> tuple[httpx.Response, Statements]:
    """The answer, and what the last request alone sent: those before it only look up versions."""
    send, sent = PortalTransport.handle_request, Statements()
    with counting(club.database) as heard:

        def counted(transport: PortalTransport, request: httpx.Request) -> httpx.Response:
            heard.clear()
            return send(transport, request)

        monkeypatch.setattr(PortalTransport, "handle_request", counted)
        answer = ask(club, "administrator", row["method"], row["route"], own=row["administrator"] == "own")
        sent.extend(heard)
    monkeypatch.undo()
    if row["method"] != "GET":
        club.put_back()
    return answer, sent


def test_every_route_has_a_budget_and_no_budget_is_left_over() -> None:
    assert set(BUDGETS) == {(row["method"], row["route"]) for row in ROUTES}


@pytest.mark.parametrize("row", ROUTES, ids=[f"{row['method']} {row['route']}" for row in ROUTES])
def test_a_route_keeps_to_its_budget(
    club: FilledClub, row: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    answer, sent = asked(club, row, monkeypatch)

    budget = BUDGETS.get((row["method"], row["route"]), -1)
    assert answer.status_code < 400
    assert len(sent) <= budget, f"{len(sent)} statements, the budget is {budget}:\n{sent}"
