"""What there is to choose from is offered whole, however many there are."""

from __future__ import annotations

import re
from uuid import uuid4

from service.lib.database import Database
from service.lib.write import Writer, insert_rows
from service.members.tables import Area
from service.pages import choices
from service.storage.tables import Box, Place, Store
from service.trees.tables import Site
from tests.builders.storage import make_ground, run
from tests.infra.statements import Statements

MORE_THAN_A_PAGE = 230


def test_a_choice_is_offered_of_every_site_area_place_and_box(
    database: Database, writer: Writer, statements: Statements
) -> None:
    ground = make_ground(writer)
    areas = [{"id": uuid4(), "name": f"Valley {n:03}"} for n in range(MORE_THAN_A_PAGE)]
    sites = [
        {"id": uuid4(), "name": f"Slope {n:03}", "area_id": ground.area_id} for n in range(MORE_THAN_A_PAGE)
    ]
    stores = [
        {"id": uuid4(), "name": f"Fridge {n:03}", "kind": "fridge", "host_id": ground.host.party_id}
        for n in range(MORE_THAN_A_PAGE)
    ]
    places = [{"id": uuid4(), "store_id": store["id"], "name": "Top shelf"} for store in stores]
    boxes = [{"id": uuid4(), "name": f"Crate {n:03}"} for n in range(MORE_THAN_A_PAGE)]
    for table, rows in ((Area, areas), (Site, sites), (Store, stores), (Place, places), (Box, boxes)):
        run(writer, insert_rows, table, rows)
    offers = (
        (choices.areas, "Valley", 2), (choices.sites, "Slope", 2), (choices.places, "Fridge", 3), (choices.boxes, "Crate", 2),
    )  # fmt: skip

    for offer, named, most in offers:
        with database.reading() as session, statements.at_most(most):
            offered = [words for _id, words in offer(session)]
        numbers = {int(found[1]) for words in offered if (found := re.match(rf"{named} (\d+)", words))}
        assert numbers == set(range(MORE_THAN_A_PAGE)), offer.__name__
