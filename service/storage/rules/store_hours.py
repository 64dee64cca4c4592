"""Questions to a store's hours that many stretches ask at once: how they are known, and which was the coldest. See `keeping_many`."""

from __future__ import annotations

import numpy as np

from service.lib.readings import Column
from service.storage.rules.doses import Basis
from service.storage.rules.store_sums import MIDDLE, BaseDoses

COUNTED = ("measured", "by_hand", "nominal", "assumed", "damp", "in_pack")
OF_STORE = 5  # the first of these follow from a store's hours alone


class StoreHours:
    """A store's hours with what makes each question one step, however long the stretch."""

    def __init__(self, store: BaseDoses) -> None:
        self.store = store
        known = store.known
        told = (
            known <= Basis.NEIGHBOURS, known == Basis.BY_HAND, known == Basis.NOMINAL, known == Basis.ASSUMED, store.damp,
        )  # fmt: skip
        self.counted = np.stack([_running(each) for each in told])
        middle = store.temp_c[MIDDLE]
        # As of `keeping`: what was only assumed or said did not freeze.
        lowest = np.where(known >= Basis.ASSUMED, np.maximum(middle, 0.0), middle)
        self._lowest = [lowest]  # of so many hours from each on: one, two, four …
        while (wide := 2 ** (len(self._lowest) - 1)) < len(lowest):
            before = self._lowest[-1]
            self._lowest.append(np.minimum(before, np.append(before[wide:], np.full(wide, np.inf))))

    def coldest(self, begin: Column, end: Column) -> Column:
        """Of each stretch, of which each has at least an hour."""
        first, hours = begin - self.store.first_hour, end - begin
        level = np.frexp(hours)[1] - 1  # the largest power of two that is no longer
        found = np.empty(len(first))
        for each in np.unique(level):
            mine = level == each
            row, start = self._lowest[each], first[mine]
            found[mine] = np.minimum(row[start], row[start + hours[mine] - 2 ** int(each)])
        return found

    def counts(self, begin: Column, end: Column) -> Column:
        """Of each stretch, how many of its hours are known how: what of `COUNTED` is `OF_STORE`."""
        first = self.store.first_hour
        return np.asarray(self.counted[:, end - first] - self.counted[:, begin - first])


def _running(told: Column) -> Column:
    return np.concatenate([[0], np.cumsum(told)])
