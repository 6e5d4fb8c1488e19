"""An arrangement made by hand gets the same score and the same findings as a proposal."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from visualiser.arrangement.arrangement import Arrangement
from visualiser.arrangement.families.salons import host_of
from visualiser.arrangement.families.slopes import stair_rise
from visualiser.arrangement.guidelines import Guidelines
from visualiser.arrangement.measures import PLAIN, Frame
from visualiser.arrangement.rules import check_arrangement
from visualiser.arrangement.scoring import WEIGHTS, explain
from visualiser.arrangement.setting import Setting, describe_hung, objects
from visualiser.survey.survey import Survey


def judge(
    arrangement: Arrangement,
    survey: Survey,
    guidelines: Guidelines,
    *,
    colours: Mapping[str, ArrayLike] | None = None,
    weights: Mapping[str, float] = WEIGHTS,
) -> Arrangement:
    """Score an arrangement as it hangs and hold the rules against it.

    Returns
    -------
    The same places with ``score``, ``terms`` and ``findings`` renewed.

    Raises
    ------
    ArrangementError
        If the wall's outline or a zone crosses itself.
    """
    findings = check_arrangement(arrangement, survey, guidelines)
    if not arrangement.placements:
        return replace(arrangement, score=0.0, terms=(), findings=findings)
    placed = [arrangement.piece(p.piece_id) for p in arrangement.placements]
    setting = describe_hung(placed, survey, guidelines, colours)
    centres = np.array([[p.x_mm, p.y_mm] for p in arrangement.placements])
    score, terms = explain(centres, setting, weights, _frame(arrangement, setting))
    return replace(arrangement, score=score, terms=terms, findings=findings)


def _frame(arrangement: Arrangement, setting: Setting) -> Frame:
    """Give what a group of this family is measured with."""
    if arrangement.family == "stair":
        return Frame(rise=stair_rise(setting) or 0.0)
    if arrangement.family == "around an object":
        for item in objects(setting):
            if arrangement.bounds.overlaps(item):
                return Frame(host_of(item, setting))
    return PLAIN
