"""The report of the bench: aims are judged, a part that fails or lacks something is one line."""

import json
from typing import Any

import numpy as np
import pytest

from tests.bench import growth, scaling
from tests.bench.__main__ import outcome
from tests.bench.clock import spent_s, taken_s
from tests.bench.figures import Asked, Figure, Part, Told
from tests.bench.known import PARTS
from tests.bench.sheet import data, markdown

QUICK = Asked(quick=True)


def part(**more: Any) -> Part:
    """A part whose bench does not exist."""
    return Part("one", "What?", lambda _: [], lambda _: Told([]), module="no_such_bench", **more)


@pytest.mark.parametrize(
    ("value", "bounds", "met"),
    [
        (0.3, {"at_most": 0.3}, True),
        (0.31, {"at_most": 0.3}, False),
        (1.9, {"at_least": 2.0}, False),
        (2.0, {"at_least": 2.0}, True),
        (7.0, {}, None),
        (float("nan"), {"at_most": 1.0}, False),
    ],
)
def test_an_aim_is_met_at_its_bound(value: float, bounds: dict[str, float], met: object) -> None:
    assert Figure("x", value, **bounds).met is met


def test_a_failed_part_and_one_that_lacks_something_are_a_line_each() -> None:
    failed = outcome(part(), QUICK)
    left_out = outcome(part(lacking=lambda _: "needs a browser"), QUICK)
    page = markdown(QUICK, {"cores": 2}, "today", [failed, left_out])
    assert "| one | failed | exit code 1" in page
    assert "Left out: needs a browser" in page
    assert [each["outcome"] for each in data(QUICK, {}, "today", [failed, left_out])["parts"]] == [
        "failed",
        "left out",
    ]


def test_every_part_says_what_it_asks_and_runs_a_bench_that_exists() -> None:
    for each in PARTS:
        command = each.command(QUICK)
        assert command[0] == "-m"
        __import__(command[1])
        assert each.asks.endswith(".")
        json.dumps(command)
    assert len({each.name for each in PARTS}) == len(PARTS)


def test_the_exponent_of_a_power_law_is_found() -> None:
    """3 n^0.7 by its definition."""
    at = [1.0, 2.0, 5.0, 9.0]
    assert growth.fitted(at, [3 * n**0.7 for n in at]) == pytest.approx(0.7, abs=1e-9)


@pytest.mark.parametrize(
    ("cores", "workers"), [(1, [1]), (2, [1, 2]), (6, [1, 2, 4, 6]), (8, [1, 2, 4, 8])]
)
def test_workers_double_up_to_the_cores(cores: int, workers: list[int]) -> None:
    assert scaling.counts(cores) == workers


def test_cpu_time_counts_work_and_not_waiting() -> None:
    spent, wall = taken_s(lambda: np.linalg.svd(np.ones((300, 300))))
    assert spent > 0
    assert wall > 0
    assert spent_s() >= spent
