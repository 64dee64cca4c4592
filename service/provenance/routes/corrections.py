"""Putting right what was written wrong, or left out: a tree's name, a tree met on the way, the time of a cut."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Response

from service.collection.schemas import CollectionRead, CutNameSet, CutTreeSet, TimeSet
from service.lib.paging import Page
from service.lib.request import (
    EDIT_PROBLEMS,
    READ_PROBLEMS,
    Edit,
    IfMatch,
    Pages,
    Read,
    StrictRoute,
    problems,
    with_etag,
)
from service.members.rules import May
from service.members.signin import Asker, may
from service.provenance import actions
from service.provenance.schemas import CutMoved, CutRenamed, TreeFinished, TreeRenamed
from service.trees.queries import list_name_changes
from service.trees.schemas import TreeFinish, TreeNameChangeRead, TreeNameSet

router = APIRouter(prefix="/api", tags=["corrections"], route_class=StrictRoute)

Reader = Annotated[Asker, may(May.READ)]
Planter = Annotated[Asker, may(May.TREES)]
Collector = Annotated[Asker, may(May.COLLECT)]


@router.get("/trees/{tree_id}/names", responses=problems(*READ_PROBLEMS))
def get_names(tree_id: UUID, session: Read, member: Reader, paging: Pages) -> Page[TreeNameChangeRead]:
    """What a tree was called before, since when it is called otherwise, and why."""
    return list_name_changes(session, paging, tree_id)


@router.patch("/trees/{tree_id}/name", responses=problems(*EDIT_PROBLEMS))
async def patch_name(
    tree_id: UUID, body: TreeNameSet, member: Planter, version: IfMatch, edit: Edit, response: Response
) -> TreeRenamed:
    """Another name for a tree: `wrong` reaches all that took its name from it, `topworked` only what is cut from then on."""
    renamed = await edit(actions.set_tree_name, member, tree_id, body, version)
    with_etag(response, renamed.tree.version)
    return renamed


@router.patch("/collections/{collection_id}/name", responses=problems(*EDIT_PROBLEMS))
async def patch_cut_name(
    collection_id: UUID, body: CutNameSet, member: Planter, version: IfMatch, edit: Edit, response: Response
) -> CutRenamed:
    """What wood from outside really is, or of which of its tree's varieties a cut is; all that was made of it follows."""
    renamed = await edit(actions.set_cut_name, member, collection_id, body, version)
    with_etag(response, renamed.collection.version)
    return renamed


@router.patch("/collections/{collection_id}/tree", responses=problems(*EDIT_PROBLEMS))
async def patch_cut_tree(
    collection_id: UUID, body: CutTreeSet, member: Planter, version: IfMatch, edit: Edit, response: Response
) -> CutMoved:
    """The tree a cut really came from. Its name follows; what a stop binds stays bound, and a stop of that tree binds it too."""
    moved = await edit(actions.set_cut_tree, member, collection_id, body, version)
    with_etag(response, moved.collection.version)
    return moved


@router.patch("/trees/{tree_id}/finish", responses=problems(*EDIT_PROBLEMS))
async def patch_finish(
    tree_id: UUID, body: TreeFinish, member: Planter, version: IfMatch, edit: Edit, response: Response
) -> TreeFinished:
    """Tell what was left out of a tree met on the way; all that took its name from it follows the accepted one."""
    finished = await edit(actions.finish_tree, member, tree_id, body, version)
    with_etag(response, finished.tree.version)
    return finished


@router.patch("/collections/{collection_id}/time", responses=problems(*EDIT_PROBLEMS))
async def patch_time(
    collection_id: UUID, body: TimeSet, member: Collector, version: IfMatch, edit: Edit, response: Response
) -> CollectionRead:
    """When a cut was made or wood came, put right; never after what was done with its wood."""
    collection = await edit(actions.set_cut_time, member, collection_id, body, version)
    with_etag(response, collection.version)
    return collection
