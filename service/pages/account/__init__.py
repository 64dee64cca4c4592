"""People: coming in, one's own account, everybody else, and the club they belong to."""

from fastapi import APIRouter

from service.lib.routing import take_routes
from service.pages.account.areas import router as areas
from service.pages.account.calendar import router as calendar
from service.pages.account.club import router as club
from service.pages.account.door import router as door
from service.pages.account.invitations import router as invitations
from service.pages.account.own import router as own
from service.pages.account.people import router as people

router = APIRouter()
# Addresses with a word where another page has an id must come first.
for each in (door, own, calendar, invitations, people, club, areas):
    take_routes(router.routes, each)
