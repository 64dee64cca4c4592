"""One winter as its people live it, each step a request over HTTP by whoever does it. The club and people are invented."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

import httpx
import pypdfium2
import zxingcpp

from service.lib.clock import FixedClock
from tests.builders.catalogue import rootstock_id
from tests.infra.cast import Cast
from tests.infra.web import Client

Json = Any
HOST = "TAGS.HOLLIN-VALE.EXAMPLE"


class Winter:
    """Who does what, and what they were answered; `on` sets the day."""

    def __init__(self, client: Callable[[str], Client], clock: FixedClock, cast: Cast) -> None:
        self.client, self.clock, self.cast = client, clock, cast

    def on(self, year: int, month: int, day: int) -> None:
        self.clock.at = datetime(year, month, day, 11, tzinfo=UTC)

    def send(self, who: str, path: str, body: Json, status: int = 201, **given: Any) -> Json:
        answer = self.client(who).post(f"/api{path}", json=body, **given)
        assert answer.status_code == status, answer.text
        return answer.json()

    def ask(self, who: str, path: str, **params: Any) -> Json:
        answer = self.client(who).get(f"/api{path}", params=params)
        assert answer.status_code == 200, answer.text
        return answer.json()

    # -- before the season ---------------------------------------------------------------------------------------

    def live_in(self, who: UUID, area_id: str) -> None:
        """A party's plant-health area, told by the steward."""
        address = f"/api/parties/{who}"
        seen = self.client("steward").get(address)
        etag = seen.headers["ETag"]
        changed = self.client("steward").patch(address, json={"area_id": area_id}, headers={"If-Match": etag})
        assert changed.status_code == 200, changed.text

    def add_guest(self, name: str) -> UUID:
        (made,) = self.send("steward", "/parties", [{"kind": "guest", "name": name}])
        return UUID(made["id"])

    def plant_tree(self, site_id: str, cultivar_id: str) -> Json:
        tree = {"site_id": site_id, "cultivar_id": cultivar_id, "may_cut": "yes", "planted_year": 1961}
        (made,) = self.send("collector", "/trees", [tree])
        return made

    def look_at(self, tree_id: str, kind: str, result: str) -> None:
        self.send("health_steward", "/tree-checks", [{"tree_id": tree_id, "kind": kind, "result": result}])

    # -- cutting and labelling -----------------------------------------------------------------------------------

    def cut(self, tree_id: str, *sticks: int) -> list[Json]:
        cut = {
            "tree_id": tree_id, "sticks": sum(sticks), "stage": "00", "leaves_down": True, "disinfected": True,
        }  # fmt: skip
        body = [{"cut": cut, "bundles": [{"sticks": count} for count in sticks]}]
        (made,) = self.send("collector", "/labelled-cuts", body)
        return made["bundles"]

    def print_sheet(self, codes: list[str]) -> list[str]:
        """The addresses that a reader finds on the printed sheet."""
        body = {"codes": codes, "sheet": "a4-3x7"}
        answer: httpx.Response = self.client("collector").post("/api/label-sheets", json=body)
        assert answer.status_code == 201, answer.text
        pages = pypdfium2.PdfDocument(answer.content)
        # 203 dots an inch: the coarsest of the usual label printers.
        shown = [page.render(scale=203 / 72, grayscale=True).to_pil() for page in pages]
        return [
            found.text
            for page in shown
            for found in zxingcpp.read_barcodes(page, formats=zxingcpp.BarcodeFormat.QRCode)
        ]

    # -- the store -------------------------------------------------------------------------------------------------

    def open_store(self) -> tuple[Json, Json]:
        shelf = {
            "name": "Garage fridge",
            "host_id": str(self.cast.host.party_id),
            "places": ["Top", "Bottom"],
        }
        store = self.send("host", "/stores", shelf)
        box = self.send("host", "/boxes", {"name": "Box 1", "store_id": store["id"]})
        return store, box

    def put_into_box(self, code: str, box_code: str) -> None:
        self.send("host", "/put-away", [{"code": code, "into_code": box_code}])

    # -- passing on ------------------------------------------------------------------------------------------------

    def hand_over(self, bundle_id: str, sticks: int, to: UUID | None, form: str, status: int = 201) -> Json:
        body = {"bundle_id": bundle_id, "sticks": sticks, "form": form, "party_id": str(to) if to else None}
        made = self.send("steward", "/hand-overs", [body], status)
        return made[0]["bundle"] if status == 201 else made

    # -- bench and trace ---------------------------------------------------------------------------------------------

    def graft(self, code: str, sticks: int, grafts: int) -> Json:
        body = {
            "woods": [{"code": code, "sticks": sticks}], "method": "whip-and-tongue", "grafts": grafts, "plants": grafts,
            "rootstock_id": str(rootstock_id("m-26")),
        }  # fmt: skip
        (made,) = self.send("member", "/grafts", [body])
        return made

    def trace(self, kind: str, thing_id: str, direction: str, **more: Any) -> Json:
        return self.ask("steward", f"/trace/{kind}/{thing_id}", direction=direction, **more)

    def scan(self, who: str, code: str) -> Json:
        return self.ask(who, f"/tags/{code}/answer")


def things(trace: Json) -> set[str]:
    return {node["id"] for node in trace["nodes"]}
