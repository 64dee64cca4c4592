"""Chill and doses of stored wood, as plainly as numpy allows. Frozen: the ceiling of service/science. Columns: hours by series."""

import numpy as np


def run(temp: np.ndarray, damp: np.ndarray, need: float = 50, days: float = 15, weeks: float = 60) -> np.ndarray:  # fmt: skip
    x, cp, reserve, lost, mould, bud = np.zeros((6, temp.shape[1]))
    for t, rh in zip(temp, damp, strict=True):
        k = t + 273
        xs = 139500 / 2.567e18 * np.exp((12888.8 - 4153.5) / k)
        x = xs - (xs - x) * np.exp(-2.567e18 * np.exp(-12888.8 / k))
        laid = np.where(x >= 1, 1 / (1 + np.exp(-1.6 * 277 * (k - 277) / k)) * x, 0)
        x, cp = x - laid, cp + laid
        gate = np.minimum(1, 2 / (1 + np.exp(-(cp - need) / (0.08 * need))))
        s = (1 + np.exp(-0.185 * 1.6)) / (1 + np.exp(-0.185 * (t - 18.4)))
        bud = bud + np.where(t >= -1, gate * s, 0) / 24 / days
        reserve = reserve + 2 ** (t / 10) / 24 / (7 * weeks)
        lost = lost + 2 * 0.02 * 0.6108 * np.exp(17.27 * (td := np.maximum(t, -5)) / (td + 237.3)) * (1 - rh / 100) / 24  # fmt: skip
        mould = mould + np.where(t >= -4, 0.35 * (8**(np.minimum(t, 6) / 10) * 5**(np.maximum(t - 6, 0) / 10)), 0) / 24 / 280  # fmt: skip
    return np.stack([cp, x, reserve, lost, mould, bud])
