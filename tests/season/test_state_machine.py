"""Anything in any order, over HTTP: the record always says what a simple model says, and its audit stays clean."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID, uuid4

import httpx
import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from service.bundles import queries
from service.lib.write import Writer
from tests.builders.bundles import settle
from tests.builders.trees import Orchard, make_orchard, make_tree
from tests.infra.cast import Cast
from tests.infra.web import Client

PICKS = st.integers(0, 10_000)
FEW = st.integers(1, 9)


@dataclass
class Sticks:
    """A bundle as the model has it."""

    id: str
    cut: str
    code: str | None
    on_hand: int
    parent: str | None = None
    holder: str | None = None
    on_table: int = 0
    stops: set[str] = field(default_factory=set)


@dataclass
class Sums:
    """The sticks of one cut: what came, and what left for good."""

    came: int = 0
    grafted: int = 0
    discarded: int = 0
    outside: int = 0


@dataclass
class Sent:
    """A request that was answered, and its answer."""

    who: str
    path: str
    body: Any
    key: str
    answer: Any


@dataclass(frozen=True)
class Ground:
    """What every run stands on: the people, their clients, and an orchard."""

    client: Callable[[str], Client]
    writer: Writer
    cast: Cast
    orchard: Orchard


@pytest.fixture
def ground(client: Callable[[str], Client], writer: Writer, cast: Cast) -> Ground:
    orchard = make_orchard(writer, cast.steward)
    settle(writer, orchard.area_id, cast.guest_id)
    settle(writer, orchard.other_area_id, cast.member.party_id)
    return Ground(client, writer, cast, orchard)


class Season(RuleBasedStateMachine):
    ground: Ground

    def __init__(self) -> None:
        super().__init__()
        self.bundles: dict[str, Sticks] = {}
        self.cuts: dict[str, Sums] = {}
        self.cuts_of_tree: dict[str, list[str]] = {}
        self.stops: dict[str, str | None] = {}
        self.sent: list[Sent] = []

    # -- sending ------------------------------------------------------------------------------------------------------

    def send(self, path: str, body: Any, *, fine: bool, refused: int = 409, who: str = "steward") -> Any:
        """Send a change; gives its answer, or None where the model says it is refused and the service agrees."""
        key = str(uuid4())
        answer = self.post(who, path, body, key)
        assert answer.status_code == (201 if fine else refused), (
            f"{path} {body}: {answer.status_code} {answer.text}"
        )
        if not fine:
            return None
        self.sent.append(Sent(who, path, body, key, answer.json()))
        return answer.json()

    def post(self, who: str, path: str, body: Any, key: str) -> httpx.Response:
        return self.ground.client(who).post(f"/api{path}", json=body, headers={"Idempotency-Key": key})

    def pick(self, which: int) -> Sticks:
        return list(self.bundles.values())[which % len(self.bundles)]

    def add(self, told: Any) -> None:
        """A bundle as the service answered it; what it holds is the model's own affair."""
        sticks = Sticks(told["id"], told["collection_id"], told["code"], told["sticks_at_start"])
        sticks.parent, sticks.holder = told["parent_id"], told["holder_id"]
        self.bundles[sticks.id] = sticks

    def came_of(self, bundle_id: str) -> set[str]:
        found, waiting = set(), [bundle_id]
        while waiting:
            found.add(one := waiting.pop())
            waiting += [each.id for each in self.bundles.values() if each.parent == one]
        return found

    # -- the deeds ------------------------------------------------------------------------------------------------------

    @initialize(trees=st.integers(1, 2))
    def plant(self, trees: int) -> None:
        for _ in range(trees):
            tree = make_tree(self.ground.writer, self.ground.cast.steward, self.ground.orchard)
            self.cuts_of_tree[str(tree.id)] = []
        self.collect(0, [6, 3])

    @rule(which=PICKS, parts=st.lists(FEW, min_size=1, max_size=3))
    def collect(self, which: int, parts: list[int]) -> None:
        tree = list(self.cuts_of_tree)[which % len(self.cuts_of_tree)]
        cut = str(uuid4())
        body = [
            {
                "cut": {"id": cut, "tree_id": tree, "sticks": sum(parts)},
                "bundles": [{"sticks": n} for n in parts],
            }
        ]
        stopped = any(place == tree for place in self.stops.values())
        answer = self.send("/labelled-cuts", body, fine=not stopped)
        if answer:
            self.cuts[cut] = Sums(came=sum(parts))
            self.cuts_of_tree[tree].append(cut)
            for told in answer[0]["bundles"]:
                assert told["code"]
                self.add(told)

    @rule(which=PICKS, sticks=FEW)
    def split(self, which: int, sticks: int) -> None:
        parent = self.pick(which)
        fine = not parent.stops and sticks <= parent.on_hand
        answer = self.send("/splits", [{"bundle_id": parent.id, "sticks": sticks}], fine=fine)
        if answer:
            parent.on_hand -= sticks
            self.add(answer[0]["bundle"])
            assert answer[0]["bundle"]["holder_id"] == parent.holder

    @rule(which=PICKS, sticks=FEW, form=st.sampled_from(["bundle", "flag"]), across=st.booleans())
    def hand_over(self, which: int, sticks: int, form: str, across: bool) -> None:
        parent, cast = self.pick(which), self.ground.cast
        to = str(cast.member.party_id if across else cast.guest_id)
        fine = not parent.stops and sticks <= parent.on_hand and not across
        body = [{"bundle_id": parent.id, "sticks": sticks, "form": form, "party_id": to}]
        answer = self.send("/hand-overs", body, fine=fine, who="host")
        if answer:
            parent.on_hand -= sticks
            self.add(answer[0]["bundle"])
            assert answer[0]["bundle"]["holder_id"] == to
            assert (answer[0]["bundle"]["code"] is None) is (form == "flag")

    @rule(which=PICKS, sticks=FEW)
    def put_on_table(self, which: int, sticks: int) -> None:
        bundle = self.pick(which)
        body = [{"bundle_id": bundle.id, "sticks": sticks, "form": "table"}]
        if self.send("/hand-overs", body, fine=not bundle.stops and sticks <= bundle.on_hand):
            bundle.on_hand -= sticks
            bundle.on_table += sticks
            self.cuts[bundle.cut].outside += sticks

    @rule(which=PICKS, sticks=st.integers(1, 4))
    def count_back(self, which: int, sticks: int) -> None:
        bundle = self.pick(which)
        if self.send(
            "/table-counts", {"bundle_id": bundle.id, "sticks": sticks}, fine=sticks <= bundle.on_table
        ):
            bundle.on_hand += sticks
            bundle.on_table -= sticks
            self.cuts[bundle.cut].outside -= sticks

    @rule(which=PICKS)
    def give_back(self, which: int) -> None:
        bundle = self.pick(which)
        fine = bundle.holder is not None and not bundle.stops
        answer = self.send("/returns", {"bundle_id": bundle.id}, fine=fine, who="host")
        if answer:
            bundle.holder = None
            assert answer["code"] == bundle.code

    @rule(which=PICKS, sticks=FEW, gained=st.integers(0, 6))
    def cut_to_length(self, which: int, sticks: int, gained: int) -> None:
        bundle = self.pick(which)
        body = {"bundle_id": bundle.id, "sticks_before": sticks, "sticks_after": sticks + gained}
        if self.send("/cuts-to-length", body, fine=not bundle.stops and sticks <= bundle.on_hand):
            bundle.on_hand += gained
            self.cuts[bundle.cut].came += gained

    @rule(which=PICKS, sticks=FEW)
    def discard(self, which: int, sticks: int) -> None:
        bundle = self.pick(which)
        body = {"bundle_id": bundle.id, "sticks": sticks, "reason": "mould"}
        if self.send("/discards", body, fine=not bundle.stops and sticks <= bundle.on_hand):
            bundle.on_hand -= sticks
            self.cuts[bundle.cut].discarded += sticks

    @rule(which=PICKS, sticks=FEW)
    def give_outside(self, which: int, sticks: int) -> None:
        bundle = self.pick(which)
        body = {
            "bundle_id": bundle.id,
            "sticks": sticks,
            "to_whom": "a school garden",
            "area_id": str(self.ground.orchard.area_id),
        }
        if self.send("/given-outside", body, fine=not bundle.stops and sticks <= bundle.on_hand):
            bundle.on_hand -= sticks
            self.cuts[bundle.cut].outside += sticks

    @rule(which=PICKS, counted=st.integers(0, 12))
    def recount(self, which: int, counted: int) -> None:
        bundle = self.pick(which)
        body = {"bundle_id": bundle.id, "counted": counted, "reason": "counted again"}
        # That stopped sticks are missing is not for a steward to write down.
        if not self.send("/recounts", body, fine=not bundle.stops or counted >= bundle.on_hand):
            return
        self.cuts[bundle.cut].came += counted - bundle.on_hand
        bundle.on_hand = counted

    @rule(which=PICKS, sticks=FEW, plants=st.integers(0, 2))
    def graft(self, which: int, sticks: int, plants: int) -> None:
        bundle = self.pick(which)
        wood = [{"bundle_id": bundle.id, "sticks": sticks}]
        body = [{"woods": wood, "stock_as_told": "a seedling", "grafts": 2, "plants": plants}]
        if self.send("/grafts", body, fine=not bundle.stops and sticks <= bundle.on_hand, who="host"):
            bundle.on_hand -= sticks
            self.cuts[bundle.cut].grafted += sticks

    # -- stops ----------------------------------------------------------------------------------------------------------

    @precondition(lambda self: len(self.stops) < 3)
    @rule(which=PICKS)
    def stop_bundle(self, which: int) -> None:
        bundle, stop = self.pick(which), str(uuid4())
        body = {"id": stop, "reason": "name", "bundle_id": bundle.id}
        self.send("/stops", body, fine=True, who="health_steward")
        self.stops[stop] = None
        for each in self.came_of(bundle.id):
            self.bundles[each].stops.add(stop)

    @precondition(lambda self: len(self.stops) < 3)
    @rule(which=PICKS)
    def stop_tree(self, which: int) -> None:
        tree, stop = list(self.cuts_of_tree)[which % len(self.cuts_of_tree)], str(uuid4())
        body = {"id": stop, "reason": "health", "agent": "fire blight", "tree_id": tree}
        self.send("/stops", body, fine=True, who="health_steward")
        self.stops[stop] = tree
        for bundle in self.bundles.values():
            if bundle.cut in self.cuts_of_tree[tree]:
                bundle.stops.add(stop)

    @precondition(lambda self: bool(self.stops))
    @rule(which=PICKS)
    def clear_stop(self, which: int) -> None:
        stop = list(self.stops)[which % len(self.stops)]
        self.send(f"/stops/{stop}/clear", {"note": "looked at again"}, fine=True, who="health_steward")
        del self.stops[stop]
        for bundle in self.bundles.values():
            bundle.stops.discard(stop)

    # -- the same again ----------------------------------------------------------------------------------------------------

    @rule(which=PICKS)
    def send_again(self, which: int) -> None:
        earlier = self.sent[which % len(self.sent)]
        answer = self.post(earlier.who, earlier.path, earlier.body, earlier.key)
        assert (answer.status_code, answer.json()) == (201, earlier.answer)

    @rule(which=PICKS, other=PICKS)
    def use_a_key_for_something_else(self, which: int, other: int) -> None:
        earlier, later = self.sent[which % len(self.sent)], self.sent[other % len(self.sent)]
        if (earlier.path, earlier.body) != (later.path, later.body) and earlier.who == later.who:
            answer = self.post(later.who, later.path, later.body, earlier.key)
            assert (answer.status_code, answer.json()["type"]) == (422, "/problems/key-reused")

    # -- after every step -----------------------------------------------------------------------------------------------------

    @invariant()
    def the_record_is_sound_and_says_what_the_model_says(self) -> None:
        # Read past HTTP: it is done after every step, and most of the time would go into asking.
        with self.ground.writer.database.reading() as session:
            found = queries.audit(session)
            facts = queries.facts_for_bundles(session, map(UUID, self.bundles))
        assert found.clean, found
        said = {
            str(f.id): (f.on_hand, f.open_stops, f.holder_id and str(f.holder_id)) for f in facts.values()
        }
        assert said == {b.id: (b.on_hand, len(b.stops), b.holder) for b in self.bundles.values()}

    def teardown(self) -> None:
        found = self.ground.client("administrator").get("/api/audit").json()
        assert (found["wrong_counters"], found["wrong_stops"], found["wrong_balances"]) == ([], [], [])
        for cut, sums in self.cuts.items():
            page = self.ground.client("steward").get(f"/api/bundles?collection_id={cut}&limit=200").json()
            listed = {each["id"]: (each["on_hand"], each["stopped"]) for each in page["items"]}
            assert listed == {b.id: (b.on_hand, bool(b.stops)) for b in self.bundles.values() if b.cut == cut}
            told = self.ground.client("steward").get(f"/api/collections/{cut}/balance").json()
            here = sum(bundle.on_hand for bundle in self.bundles.values() if bundle.cut == cut)
            assert told["collected"] + told["gained"] + told["corrections"] == sums.came
            assert (told["on_hand"], told["grafted"], told["discarded"], told["given_outside"], told["holds"]) == (
                here, sums.grafted, sums.discarded, sums.outside, True,
            )  # fmt: skip
        # Stops on shared ground would reach into the next run.
        for stop in list(self.stops):
            self.send(f"/stops/{stop}/clear", {"note": "end of the run"}, fine=True, who="health_steward")


def test_any_deeds_in_any_order_keep_the_record_right(ground: Ground) -> None:
    machine = type("SeasonHere", (Season,), {"ground": ground})
    search = settings().max_examples > 100

    run_state_machine_as_test(
        machine,
        settings=settings(
            max_examples=150 if search else 16, stateful_step_count=60 if search else 50,
            report_multiple_bugs=False,
            suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large],
        ),
    )  # fmt: skip
