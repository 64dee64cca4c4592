"""Scans, timelines, traces, stops and recalls over HTTP."""

from fastapi import APIRouter

from service.lib.routing import take_routes
from service.provenance.routes.corrections import router as corrections
from service.provenance.routes.day_packs import router as day_packs
from service.provenance.routes.exports import router as exports
from service.provenance.routes.recalls import router as recalls
from service.provenance.routes.scans import router as scans
from service.provenance.routes.stops import router as stops

router = APIRouter()
for part in (scans, day_packs, stops, recalls, corrections, exports):
    take_routes(router.routes, part)
