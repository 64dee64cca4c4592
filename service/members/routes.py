"""People over HTTP: sign-in, parties, roles, areas, invitations, tokens, the club."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Body, Query, Request, Response

from service.lib.paging import Page
from service.lib.request import (
    EDIT_PROBLEMS,
    READ_PROBLEMS,
    WRITE_PROBLEMS,
    Edit,
    IfMatch,
    Pages,
    Read,
    StrictRoute,
    Write,
    problems,
    with_etag,
)
from service.members import actions, queries, rules
from service.members.rules import May, PartyKind, Role
from service.members.schemas import (
    AreaCreate,
    AreaPermitCreate,
    AreaPermitRead,
    AreaRead,
    AreaUpdate,
    ClubRead,
    ClubUpdate,
    InvitationAccept,
    InvitationCreate,
    InvitationMade,
    InvitationRead,
    LetterRead,
    PartyCreate,
    PartyName,
    PartyRead,
    PartyUpdate,
    PasswordUpdate,
    RolesRead,
    RoleSummary,
    RolesUpdate,
    SessionCreate,
    SessionRead,
    SessionSummary,
    SignedInRead,
    TokenCreate,
    TokenMade,
    TokenRead,
)
from service.members.signin import (
    Asker,
    AtBrowser,
    SignedIn,
    accept_invitation,
    change_password,
    clear_session_cookie,
    may,
    set_session_cookie,
    sign_in,
)

router = APIRouter(prefix="/api", tags=["people"], route_class=StrictRoute)

SEARCH = Query(
    max_length=100, description="words of the name, with or without accents", pattern=r"^[^\x00]*$"
)
MANY = Body(min_length=1, max_length=200)

# -- signing in --------------------------------------------------------------------------------------------------


@router.post("/session", status_code=201, responses=problems(400, 401, 403, 413, 415, 422, 429, 503))
async def post_session(request: Request, response: Response, body: SessionCreate) -> SignedInRead:
    """Sign in with a name and a password; the session comes as a cookie."""
    signed_in = await sign_in(request, body)
    set_session_cookie(request, response, signed_in)
    return SignedInRead.model_validate(signed_in)


@router.get("/session", responses=problems(*READ_PROBLEMS))
async def get_session(asker: SignedIn) -> SessionRead:
    """Who is asking, and what they may do."""
    shown = {"roles": rules.in_order(asker.roles), "may": sorted(asker.may)}
    return SessionRead.model_validate({**vars(asker), **shown})


@router.delete("/session", status_code=204, responses=problems(*WRITE_PROBLEMS))
async def delete_session(request: Request, response: Response, asker: AtBrowser, edit: Edit) -> None:
    """Sign out here."""
    await edit(actions.end_sign_in, asker, asker.credential_id)
    clear_session_cookie(request, response)


@router.get("/sessions", responses=problems(*READ_PROBLEMS))
def get_sessions(request: Request, asker: SignedIn, read: Read) -> list[SessionSummary]:
    """Where you are signed in."""
    return queries.list_sessions(read, asker.account_id, asker.credential_id, request.app.state.clock.now())


@router.delete("/sessions", status_code=204, responses=problems(*WRITE_PROBLEMS))
async def delete_sessions(request: Request, response: Response, asker: AtBrowser, edit: Edit) -> None:
    """Sign out everywhere."""
    await edit(actions.end_all_sign_ins, asker)
    clear_session_cookie(request, response)


@router.delete("/sessions/{session_id}", status_code=204, responses=problems(*WRITE_PROBLEMS))
async def delete_one_session(session_id: UUID, asker: AtBrowser, edit: Edit) -> None:
    """Sign out one of your browsers."""
    await edit(actions.end_sign_in, asker, session_id)


@router.put("/password", responses=problems(*EDIT_PROBLEMS))
async def put_password(
    request: Request, response: Response, body: PasswordUpdate, asker: AtBrowser
) -> SignedInRead:
    """A new password; you are signed out everywhere else."""
    signed_in = await change_password(request, asker, body)
    set_session_cookie(request, response, signed_in)
    return SignedInRead.model_validate(signed_in)


@router.get("/tokens", responses=problems(*READ_PROBLEMS))
def get_tokens(asker: SignedIn, read: Read) -> list[TokenRead]:
    """Your API tokens, without their text."""
    return queries.list_tokens(read, asker.account_id)


@router.post("/tokens", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_tokens(body: TokenCreate, asker: AtBrowser, write: Write) -> TokenMade:
    """A token for a program, with at most your own rights; shown this once."""
    return await write(actions.make_token, asker, body)


@router.delete("/tokens/{token_id}", status_code=204, responses=problems(*WRITE_PROBLEMS))
async def delete_token(token_id: UUID, asker: AtBrowser, edit: Edit) -> None:
    """Revoke one of your tokens."""
    await edit(actions.revoke_token, asker, token_id)


@router.get("/letters", responses=problems(*READ_PROBLEMS))
def get_letters(asker: SignedIn, read: Read, pages: Pages) -> Page[LetterRead]:
    """What the service wrote to you by itself, the latest first: warnings at once, and the weekly letter to hosts."""
    return queries.list_letters(read, asker.party_id, pages)


# -- parties and roles -------------------------------------------------------------------------------------------


@router.get("/parties", responses=problems(*READ_PROBLEMS))
def get_parties(
    asker: Annotated[Asker, may(May.PEOPLE)],
    read: Read,
    pages: Pages,
    q: Annotated[str, SEARCH] = "",
    kind: PartyKind | None = None,
) -> Page[PartyRead]:
    """People and clubs by name, with how to reach them."""
    return queries.list_parties(read, pages, search=q, kind=kind)


@router.post("/parties", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_parties(
    body: Annotated[list[PartyCreate], MANY],
    asker: Annotated[Asker, may(May.HAND_OVER, May.PEOPLE)],
    write: Write,
) -> list[PartyRead]:
    """Take people or clubs into the record; whoever hands wood over may add guests."""
    return await write(actions.add_parties, asker, body)


@router.get("/parties/names", responses=problems(*READ_PROBLEMS))
def get_party_names(
    asker: Annotated[Asker, may(May.HAND_OVER, May.ACT_FOR, May.PEOPLE)],
    read: Read,
    pages: Pages,
    q: Annotated[str, SEARCH] = "",
) -> Page[PartyName]:
    """Names to choose a receiver from. Needs a right to hand wood over, to act for others, or to look after people."""
    rules.check_may_choose_party(asker.may)
    return queries.list_party_names(read, pages, search=q)


@router.get("/parties/{party_id}", responses=problems(*READ_PROBLEMS))
def get_party(party_id: UUID, response: Response, asker: SignedIn, read: Read) -> PartyRead:
    """One person or club; your own always. Another needs the right to look after people."""
    rules.check_may_see_party(asker.may, own=party_id == asker.party_id)
    party = queries.get_party(read, party_id)
    with_etag(response, party.version)
    return party


@router.patch("/parties/{party_id}", responses=problems(*EDIT_PROBLEMS))
async def patch_party(
    party_id: UUID, body: PartyUpdate, response: Response, asker: SignedIn, version: IfMatch, edit: Edit
) -> PartyRead:
    """Change what is told; of your own party the name, contact and privacy choice."""
    party = await edit(actions.change_party, asker, party_id, body, version)
    with_etag(response, party.version)
    return party


@router.get("/roles", responses=problems(*READ_PROBLEMS))
async def get_roles(asker: SignedIn) -> list[RoleSummary]:
    """Every role, and what it may do."""
    return [RoleSummary(role=role, may=sorted(rules.ROLE_MAY[role])) for role in Role]


@router.get("/roles/{party_id}", responses=problems(*READ_PROBLEMS))
def get_roles_of(
    party_id: UUID, response: Response, asker: Annotated[Asker, may(May.PEOPLE)], read: Read
) -> RolesRead:
    """The roles of one party."""
    roles = queries.get_roles(read, party_id)
    with_etag(response, roles.version)
    return roles


@router.put("/roles/{party_id}", responses=problems(*EDIT_PROBLEMS))
async def put_roles_of(
    party_id: UUID,
    body: RolesUpdate,
    response: Response,
    asker: Annotated[Asker, may(May.ADMINISTER)],
    version: IfMatch,
    edit: Edit,
) -> RolesRead:
    """Give exactly these roles; the last administrator stays one."""
    roles = await edit(actions.set_roles, asker, party_id, body, version)
    with_etag(response, roles.version)
    return roles


# -- areas -------------------------------------------------------------------------------------------------------


@router.get("/areas", responses=problems(*READ_PROBLEMS))
def get_areas(asker: Annotated[Asker, may(May.READ)], read: Read, pages: Pages) -> Page[AreaRead]:
    """Plant-health areas by name."""
    return queries.list_areas(read, pages)


@router.post("/areas", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_areas(
    body: Annotated[list[AreaCreate], MANY], asker: Annotated[Asker, may(May.TREES)], write: Write
) -> list[AreaRead]:
    """Record plant-health areas as the authority draws them."""
    return await write(actions.add_areas, asker, body)


@router.get("/areas/{area_id}", responses=problems(*READ_PROBLEMS))
def get_area(
    area_id: UUID, response: Response, asker: Annotated[Asker, may(May.READ)], read: Read
) -> AreaRead:
    """One plant-health area."""
    area = queries.get_area(read, area_id)
    with_etag(response, area.version)
    return area


@router.patch("/areas/{area_id}", responses=problems(*EDIT_PROBLEMS))
async def patch_area(
    area_id: UUID,
    body: AreaUpdate,
    response: Response,
    asker: Annotated[Asker, may(May.TREES)],
    version: IfMatch,
    edit: Edit,
) -> AreaRead:
    """Change what is told of an area."""
    area = await edit(actions.change_area, asker, area_id, body, version)
    with_etag(response, area.version)
    return area


@router.get("/area-permits", responses=problems(*READ_PROBLEMS))
def get_area_permits(
    asker: Annotated[Asker, may(May.READ)], read: Read, pages: Pages
) -> Page[AreaPermitRead]:
    """The authority's answers on wood crossing areas, the newest first."""
    return queries.list_permits(read, pages)


@router.post("/area-permits", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_area_permits(
    body: Annotated[list[AreaPermitCreate], MANY], asker: Annotated[Asker, may(May.RELEASE)], write: Write
) -> list[AreaPermitRead]:
    """Record what the authority answered; a newer answer follows an older one, none is changed."""
    return await write(actions.record_permits, asker, body)


# -- invitations -------------------------------------------------------------------------------------------------


@router.get("/invitations", responses=problems(*READ_PROBLEMS))
def get_invitations(
    request: Request, asker: Annotated[Asker, may(May.PEOPLE)], read: Read, pages: Pages
) -> Page[InvitationRead]:
    """Invitations, the newest first."""
    return queries.list_invitations(read, pages, request.app.state.clock.now())


@router.post("/invitations", status_code=201, responses=problems(*WRITE_PROBLEMS))
async def post_invitations(
    body: InvitationCreate, asker: Annotated[Asker, may(May.PEOPLE)], write: Write
) -> InvitationMade:
    """Invite somebody; the link is shown this once."""
    return await write(actions.make_invitation, asker, body)


@router.post(
    "/invitations/accept",
    status_code=201,
    responses=problems(400, 401, 403, 404, 409, 413, 415, 422, 429, 503),
)
async def post_accept(request: Request, response: Response, body: InvitationAccept) -> SignedInRead:
    """Use an invitation, and be signed in."""
    signed_in = await accept_invitation(request, body)
    set_session_cookie(request, response, signed_in)
    return SignedInRead.model_validate(signed_in)


@router.delete("/invitations/{invitation_id}", status_code=204, responses=problems(*WRITE_PROBLEMS))
async def delete_invitation(
    invitation_id: UUID, asker: Annotated[Asker, may(May.PEOPLE)], edit: Edit
) -> None:
    """Take an invitation back."""
    await edit(actions.revoke_invitation, asker, invitation_id)


# -- the club ----------------------------------------------------------------------------------------------------


@router.get("/club", responses=problems(*READ_PROBLEMS))
def get_club(response: Response, asker: Annotated[Asker, may(May.READ)], read: Read) -> ClubRead:
    """The club's settings."""
    club = queries.club(read)
    with_etag(response, club.version)
    return club


@router.patch("/club", responses=problems(*EDIT_PROBLEMS))
async def patch_club(
    body: ClubUpdate,
    response: Response,
    asker: Annotated[Asker, may(May.ADMINISTER)],
    version: IfMatch,
    edit: Edit,
) -> ClubRead:
    """Change the club's name, short name, zone or look-back."""
    club = await edit(actions.change_club, asker, body, version)
    with_etag(response, club.version)
    return club
