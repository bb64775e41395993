"""The checks of a set, for the page: only those are done again that a change can affect."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from render.errors import TenthstopError
from render.layout import Layout, place
from render.page.standing import Standing
from render.plan.balance.responses import as_before
from render.plan.checks import CHECKS, Finding
from render.plan.checks.backdrop_edges import backdrop_edges
from render.plan.checks.finding import Check, Context, by_verdict
from render.plan.checks.fit import check_door, check_operator, check_room_fit, check_sitter_fit
from render.plan.checks.in_frame import in_frame
from render.plan.checks.props import check_props
from render.plan.checks.stands import (
    check_columns_in_frame,
    check_columns_in_sitter,
    check_feet,
    check_likely_booms,
)
from render.plan.checks.tipping import check_tipping
from render.predict import Obstacles, Still

# What these find hangs on where things stand, not on how they are turned up or exposed.
STILL = (
    *(in_frame, backdrop_edges, check_room_fit, check_sitter_fit, check_operator, check_door),
    *(check_feet, check_columns_in_frame, check_columns_in_sitter, check_likely_booms),
    *(check_props, check_tipping),
)


@dataclass(slots=True)
class Checking:
    """Checks one set after the other."""

    before: Standing | None = None
    still: tuple[Layout, Still] | None = None  # what rays meet, and in which layout
    known: dict[str, list[Finding]] = field(default_factory=dict)  # by what was looked for

    def findings(
        self, standing: Standing, given_up: Callable[[], bool] = lambda: False
    ) -> tuple[Finding, ...] | None:
        """What the quick checks find, the worst first; None where that was given up.

        given_up : asked before each check; it may take its time while others come first
        A set that they cannot check is a finding of its own.
        """
        # Readings that were taken over as they are belong to things that stand as they did.
        same = self.before is not None and self.before.direct is standing.direct
        known = self.known if same else {}
        try:
            context = self._context(standing)
            found = _found(context, known, given_up)
        except TenthstopError as problem:
            self.before = None
            return (Finding("set", "scene", "wrong", 0.0, "count", None, str(problem)),)
        if found is None:
            return None
        self.known = {each.looks_for: found[each.looks_for] for each in _kept(found)}
        self.before = standing
        return by_verdict(finding for findings in found.values() for finding in findings)

    def _context(self, standing: Standing) -> Context:
        """What the checks work on, with the sitter and what shadow rays meet as they are known."""
        context = Context(standing.setup)
        layout = place(standing.setup, standing.layout.body)
        if self.still is None or not as_before(layout, self.still[0]):
            self.still = layout, Still.of(layout)
        # All are worked out when they are first asked for; here most of it is there already.
        context.__dict__["layout"] = layout
        context.__dict__["sitter"] = standing.seated.rays
        context.__dict__["obstacles"] = Obstacles.of(layout, self.still[1])
        return context


def _found(
    context: Context, known: dict[str, list[Finding]], given_up: Callable[[], bool]
) -> dict[str, list[Finding]] | None:
    """Findings by what was looked for, taken over from those known; None where given up."""
    found: dict[str, list[Finding]] = {}
    for check in CHECKS:
        if check.lacks(context):
            continue
        if given_up():
            return None
        found[check.looks_for] = known.get(check.looks_for) or check.run(context)
    return found


def _kept(known: dict[str, list[Finding]]) -> list[Check]:
    return [each for each in CHECKS if each.run in STILL and each.looks_for in known]
