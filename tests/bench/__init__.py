"""Benchmarks, run by hand: `python -m tests.bench`. Never part of the tests."""
