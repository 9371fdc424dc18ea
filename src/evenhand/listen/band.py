"""The band of the chart: where a stroke may lie and still be left alone."""

import numpy as np

from evenhand.columns import Floats
from evenhand.listen.pair import BeforeAfter


def read_band(comparison: BeforeAfter) -> tuple[Floats, Floats, Floats]:
    """The band as steps: it lies around the target of each stroke, where the decision was made.

    Returns
    -------
    ms : float64 array, shape (n,)
        Where each step begins: half-way between a stroke's line and the one before.
    low, high : float64 arrays, shape (n,)
        Earliest and latest admissible deviation from the line, ms.
    """
    result = comparison.result
    claims = result.plan.claims
    target, allowed = result.plan.lean[claims], result.plan.admissible.at(claims)
    low, high = target + allowed.low, target + allowed.high
    line = comparison.line_ms[result.strokes.reference[claims]]
    if not len(line):
        return line, low, high
    order = np.argsort(line, kind="stable")
    line, low, high = line[order], low[order], high[order]
    begin = np.append(min(0.0, line[0]), (line[1:] + line[:-1]) / 2)
    differs = (np.abs(np.diff(low)) > 1e-6) | (np.abs(np.diff(high)) > 1e-6)
    step = np.append(True, differs)
    return begin[step], low[step], high[step]
