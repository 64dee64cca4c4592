"""People: coming in, one's own account, everybody else, and the club they belong to."""

from fastapi import APIRouter

from service.pages.account import areas, club, door, invitations, own, people

router = APIRouter()
# Addresses with a word where another page has an id must come first.
for each in (door, own, invitations, people, club, areas):
    router.include_router(each.router)
