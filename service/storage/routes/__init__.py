"""Keeping over HTTP: stores and boxes, what is put away, looks at bundles, loggers."""

from fastapi import APIRouter

from service.lib.routing import take_routes
from service.storage.routes.counting import router as counting
from service.storage.routes.hand import router as hand
from service.storage.routes.keeping import router as keeping
from service.storage.routes.learned import router as learned
from service.storage.routes.loggers import router as loggers
from service.storage.routes.looks import router as looks
from service.storage.routes.nominal import router as nominal
from service.storage.routes.packing import router as packing
from service.storage.routes.stores import router as stores
from service.storage.routes.temps import router as temps
from service.storage.routes.weights import router as weights

router = APIRouter()
for part in (stores, looks, packing, counting, weights, loggers, hand, temps, nominal, keeping, learned):
    take_routes(router.routes, part)
