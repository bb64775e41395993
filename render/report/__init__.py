"""Where the two witnesses meet: meter tables and the comparison of predicted and rendered."""

from render.report.comparison import Comparison, Row, compare
from render.report.readings import Reading, Readings, WishRow, meter

__all__ = ["Comparison", "Reading", "Readings", "Row", "WishRow", "compare", "meter"]
