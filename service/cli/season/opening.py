"""How the season's record was opened: the club, its people and sign-ins, areas, sites, stores and own varieties."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from service.catalogue import actions as catalogue
from service.catalogue.actions.loading import reference_id
from service.catalogue.rules import NameKind
from service.catalogue.schemas import CultivarCreate, ProtectionSet, SpellingCreate
from service.cli.season.files import Row, read_rows, told
from service.cli.season.story import Story
from service.members import actions as members
from service.members import queries as member_queries
from service.members.rules import PartyKind, Role, may_of
from service.members.schemas import (
    AreaCreate,
    AreaPermitCreate,
    ClubUpdate,
    InvitationAccept,
    InvitationCreate,
    PartyCreate,
    PartyUpdate,
)
from service.members.signin import Asker
from service.storage import actions as storage
from service.storage.actions.nominal import set_nominal
from service.storage.schemas import BoxCreate, StoreCreate
from service.storage.schemas.nominal import NominalCreate
from service.tags import actions as tags
from service.tags.schemas import PublicAddressCreate
from service.trees import actions as trees
from service.trees.schemas import SiteCreate

Settings = Mapping[str, Any]


def open_record(story: Story, folder: Path, settings: Settings, password_hash: str) -> None:
    people = read_rows(folder, "people.csv")
    first = next(row for row in people if Role.ADMINISTRATOR in row["roles"].split())
    _let_first_in(story, first, password_hash)
    admin = story.asker(first["key"])
    club = story.do(members.ensure_club, None)
    story.do(members.change_club, admin, ClubUpdate(**settings["club"]), club.version)
    _add_areas(story, admin, settings)
    _add_people(story, admin, first, people)
    for row in people:
        if row["sign_in"] and row is not first:
            _let_in(story, admin, row, password_hash)
    address = story.do(tags.propose_address, admin, PublicAddressCreate(**settings["public_address"]))
    story.do(tags.confirm_address, admin, address.id)
    _add_sites(story, admin, settings["site"])
    _add_stores(story, admin, settings)
    _add_varieties(story, admin, settings)


# -- people --------------------------------------------------------------------------------------------------------


def _accept(story: Story, row: Row, token: str, password_hash: str) -> None:
    signed_in = story.do(
        members.accept_invitation,
        None,
        InvitationAccept(
            token=token, name=row["name"], contact=row["contact"], keep_contact_for_recall=row["keep_contact"] == "yes",
            sign_in_name=row["sign_in"], password="-",  # noqa: S106 — the action is given its hash
        ),
        password_hash,
        "made for the demo",
    )  # fmt: skip
    roles = frozenset(Role(role) for role in row["roles"].split())
    story.parties[row["key"]] = signed_in.party_id
    story.askers[row["key"]] = Asker(
        signed_in.account_id, signed_in.party_id, row["name"], roles, may_of(roles), signed_in.party_id
    )


def _let_first_in(story: Story, row: Row, password_hash: str) -> None:
    invitation = story.do(members.make_first_invitation, None)
    _accept(story, row, invitation.token, password_hash)


def _let_in(story: Story, admin: Asker, row: Row, password_hash: str) -> None:
    roles = [Role(role) for role in row["roles"].split()]
    asked = InvitationCreate(party_id=story.party(row["key"]), roles=roles)
    _accept(story, row, story.do(members.make_invitation, admin, asked).token, password_hash)


def _add_people(story: Story, admin: Asker, first: Row, people: Sequence[Row]) -> None:
    others = [row for row in people if row is not first]
    for row in others:
        story.parties[row["key"]] = story.new("party", row["key"])
    bodies = [
        PartyCreate(
            id=story.party(row["key"]), kind=PartyKind(row["kind"]), name=row["name"], contact=row["contact"],
            area_id=story.the("area", row["area"]), keep_contact_for_recall=row["keep_contact"] == "yes", note=row["note"],
        )
        for row in others
    ]  # fmt: skip
    story.do(members.add_parties, admin, bodies)
    with story.writer.database.reading() as session:
        version = member_queries.get_party(session, admin.party_id).version
    own = PartyUpdate(area_id=story.the("area", first["area"]), note=first["note"])
    story.do(members.change_party, admin, admin.party_id, own, version)


# -- areas, sites, stores --------------------------------------------------------------------------------------------


def _add_areas(story: Story, admin: Asker, settings: Settings) -> None:
    areas = [
        AreaCreate(id=story.new("area", area["key"]), **{k: v for k, v in area.items() if k != "key"})
        for area in settings["area"]
    ]
    story.do(members.add_areas, admin, areas)
    permits = [
        AreaPermitCreate(
            **{k: v for k, v in permit.items() if k not in {"from", "to"}},
            from_area_id=story.the("area", permit["from"]), to_area_id=story.the("area", permit["to"]),
        )
        for permit in settings["permit"]
    ]  # fmt: skip
    story.do(members.record_permits, admin, permits)


def _add_sites(story: Story, admin: Asker, sites: Sequence[Settings]) -> None:
    checked = {area: story.the("area", area) for area in {site["area"] for site in sites}}
    bodies = [
        SiteCreate(
            id=story.new("site", site["key"]), area_id=checked[site["area"]],
            **{k: v for k, v in site.items() if k not in {"key", "area"}},
        )
        for site in sites
    ]  # fmt: skip
    story.do(trees.add_sites, admin, bodies)


def _add_stores(story: Story, admin: Asker, settings: Settings) -> None:
    for store in settings["store"]:
        key = store["key"]
        body = StoreCreate(
            id=story.new("store", key), host_id=story.party(store["host"]),
            **{k: v for k, v in store.items() if k not in {"key", "host", "nominal_c"}},
        )  # fmt: skip
        made = story.do(storage.add_store, admin, body)
        if "nominal_c" in store:
            story.do(set_nominal, admin, made.id, NominalCreate(temp_c=store["nominal_c"]))
        story.codes[key] = made.code or ""
        story.ids.update({("place", f"{key}/{place.name}"): place.id for place in made.places})
    for box in settings["box"]:
        place_id = story.the("place", box["place"])
        boxed = BoxCreate(id=story.new("box", box["key"]), name=box["name"], place_id=place_id)
        story.codes[box["key"]] = story.do(storage.add_box, admin, boxed).code or ""


# -- the catalogue -------------------------------------------------------------------------------------------------


def _add_varieties(story: Story, admin: Asker, settings: Settings) -> None:
    """The club's own varieties with what is known of their protection, and spellings of others."""
    for variety in settings["variety"]:
        named = CultivarCreate(
            id=story.new("cultivar", variety["key"]), taxon_id=reference_id("taxon", variety["taxon"]), epithet=variety["epithet"],
            trade_designation=variety["trade_designation"], source=variety["source"],
        )  # fmt: skip
        made = story.do(catalogue.name_cultivar, admin, named)
        looked_up = ProtectionSet(
            **told(variety, "protection", "protected_until", "note", register_name="register")
        )
        story.do(catalogue.note_protection, admin, made.id, made.version, looked_up)
    for spelling in settings["spelling"]:
        body = SpellingCreate(name=spelling["name"], kind=NameKind.DONORS_SPELLING, source=spelling["source"])
        story.do(catalogue.add_spelling, admin, reference_id("cultivar", spelling["variety"]), body)
