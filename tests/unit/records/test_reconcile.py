"""From readings to one value per quantity."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from festoon.errors import InputRefusedError
from festoon.kernels.combine import disagreeing_pairs, inverse_variance_mean
from festoon.model.anatomy import SiteAnatomy
from festoon.model.dentition import Site, Tooth
from festoon.records.reconcile import resolve
from mouths import case, tooth


def middle(**entries: Any) -> SiteAnatomy:
    """The midfacial site of 11 with these entries alone."""
    extension = entries.pop("incisal_extension_mm", 0.0)
    offsets = entries.pop("datum_offset_mm", {})
    charted = tooth("11", incisal_extension_mm=extension, datum_offset_mm=offsets, sites={"midfacial": entries})
    return resolve(case({"11": charted})).teeth[Tooth("11")].site(Site.MIDFACIAL)


def test_several_readings_are_combined_by_inverse_variance() -> None:
    """Against numpy's weighted average, and 1/sqrt of the sum of weights (Bevington and Robinson 4.1, from memory)."""
    readings = [{"value": v, "se": s, "datum": "present_edge"} for v, s in ((8.1, 0.2), (8.3, 0.1), (8.0, 0.4))]
    known = middle(margin_mm=readings).margin
    weights = np.array([0.2, 0.1, 0.4]) ** -2
    assert known is not None
    assert known.value == pytest.approx(np.average([8.1, 8.3, 8.0], weights=weights))
    assert known.se == pytest.approx(weights.sum() ** -0.5)
    assert len(known.readings) == 3


def test_one_reading_passes_unchanged() -> None:
    """To the last bit."""
    known = middle(margin_mm=8.1).margin
    assert known is not None
    assert known.value == 8.1


def test_levels_of_every_datum_count_from_the_present_edge() -> None:
    """Planned edge 0.5 further incisal; a template bar 2.0 coronal of today's edge."""
    planned = middle(margin_mm={"value": 8.6, "datum": "planned_edge"}, incisal_extension_mm=0.5).margin
    barred = middle(margin_mm={"value": 10.1, "datum": "template"}, datum_offset_mm={"template": -2.0}).margin
    assert planned is not None
    assert barred is not None
    assert planned.value == pytest.approx(8.1)
    assert barred.value == pytest.approx(8.1)


def test_a_datum_without_a_place_is_refused() -> None:
    """The message names the reading and what would place it."""
    with pytest.raises(InputRefusedError, match=r"teeth\.11\.sites\.midfacial\.margin_mm.*datum_offset_mm\.template"):
        middle(margin_mm={"value": 10.1, "datum": "template"})


def test_the_crest_is_margin_plus_sounding_of_one_visit() -> None:
    """Its error is that of both."""
    known = middle(margin_mm={"value": 8.0, "se": 0.3, "datum": "present_edge"}, sounding_mm={"value": 2.5, "se": 0.4})
    assert known.crest is not None
    assert known.crest.value == pytest.approx(10.5)
    assert known.crest.se == pytest.approx(0.5)


def test_two_visits_give_no_crest() -> None:
    """They are a conflict to settle."""
    known = middle(
        margin_mm={"value": 8.0, "datum": "present_edge", "at": "2026-01-10"},
        sounding_mm={"value": 2.5, "at": "2026-02-10"},
    )
    assert known.crest is None
    assert known.crest_conflict is not None
    assert "2026-01-10" in known.crest_conflict


def test_a_directly_read_crest_is_combined_with_the_sounded_one() -> None:
    """And the distance to the margin follows the combined crest."""
    known = middle(
        margin_mm=8.0,
        sounding_mm={"value": 2.5, "se": 0.7},
        crest_mm={"value": 10.7, "se": 0.2, "datum": "present_edge", "method": "direct"},
    )
    assert known.crest is not None
    assert known.sounding is not None
    assert 10.5 < known.crest.value < 10.7
    assert known.sounding.value == pytest.approx(known.crest.value - 8.0)


def test_pairs_beyond_two_combined_standard_errors_disagree() -> None:
    """8.0 and 9.0 with 0.3 each: 1.0 against 0.85; with 0.4 each: against 1.13."""
    assert disagreeing_pairs([8.0, 9.0], [0.3, 0.3]) == [(0, 1)]
    assert disagreeing_pairs([8.0, 9.0], [0.4, 0.4]) == []


def test_nothing_cannot_be_combined() -> None:
    """No value, or an error that is not positive, is refused."""
    with pytest.raises(ValueError, match="at least one"):
        inverse_variance_mean([], [])
    with pytest.raises(ValueError, match="positive"):
        inverse_variance_mean([1.0], [0.0])
