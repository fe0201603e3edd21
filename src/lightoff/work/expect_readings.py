"""The band to expect of each reading: this heater, here, today, if it is in order."""

from __future__ import annotations

from collections.abc import Mapping

from lightoff.plant.band import Band, bands
from lightoff.shelf import Shelf
from lightoff.terms.case import Case
from lightoff.terms.visit import Stage
from lightoff.work.last_few import LastFew
from lightoff.work.rated import sheet_of
from lightoff.work.read_numbers import conditions_of
from lightoff.work.unit_baseline import unit_baseline

_known: LastFew[Mapping[str, Band]] = LastFew(512)


def expect_readings(case: Case, shelf: Shelf, *, stage: Stage) -> Mapping[str, Band]:
    """The bands of a stage by catalogue key, SI; the last few are kept.

    Raises NotFound for a sheet that is not on the shelf.
    """
    sheet, baseline = sheet_of(case, shelf), unit_baseline(case, shelf, stage=stage)
    conditions = conditions_of(case, shelf, stage=stage)
    key = (sheet.sha256, conditions, baseline.mean.tobytes(), baseline.covariance.tobytes())
    return _known.of(key, lambda: bands(sheet, conditions, baseline))
