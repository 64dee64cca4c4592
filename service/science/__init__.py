"""What is known of dormancy, cold and keeping, as plain functions: numbers in, numbers out.

No clock, no database, nothing read or written. Units stand in the names; every number stands once, in `parameters`,
with its mark and its source. `parameters`, `groups`, `requirements`, `seasons`, `packings` and `dormancy` are plain Python; the others
import numpy at their top, so whoever uses them imports them inside the function that needs them, to keep the start quick.
"""
