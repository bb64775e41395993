"""Formulas of light measurement on numbers and arrays; NumPy only."""
