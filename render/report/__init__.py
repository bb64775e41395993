"""Where the two witnesses meet: meter tables and the comparison of predicted and rendered."""

from render.report.comparison import Comparison, Row, compare
from render.report.readings import Contribution, Reading, Readings, WishRow, meter

__all__ = [
    "Comparison",
    "Contribution",
    "Reading",
    "Readings",
    "Row",
    "WishRow",
    "compare",
    "meter",
]
