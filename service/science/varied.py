"""What of the models is varied to tell how far a price may be out, beside the values that are told."""

from __future__ import annotations

from service.science.parameters import value

FORCING_MIDDLE_C, FORCING_STEEP = value("forcing", "middle"), value("forcing", "steepness")
Q10 = value("reserve", "q10")
