"""No row of the published values is forgotten."""

from __future__ import annotations

from tests.agreement.test_hair_light import COVERED as BY_HAIR
from tests.checks import CHECKS, LEFT_OUT, left_out
from tests.unit.emission.test_measured_files import COVERED as BY_FILE
from tests.unit.emission.test_tint import COVERED as BY_GEL
from tests.unit.photometry.test_colour import COVERED as BY_COLOUR
from tests.unit.photometry.test_published_values import COVERED as BY_FORMULA
from tests.unit.predict.test_published_readings import COVERED as BY_READING
from tests.unit.sitter.test_skin_colour import COVERED as BY_SKIN


def test_every_row_is_tested_or_left_to_another_part():
    tested = BY_FORMULA | BY_READING | BY_SKIN | BY_HAIR | BY_COLOUR | BY_GEL | BY_FILE
    later = {i for i in CHECKS if left_out(i)}
    assert tested | later == set(CHECKS)
    assert not tested & later
    assert not BY_FORMULA & BY_READING
    assert not BY_SKIN & (BY_FORMULA | BY_READING)


def test_every_reason_for_leaving_out_still_concerns_a_row():
    assert all(any(i.startswith(start) for i in CHECKS) for start in LEFT_OUT)
