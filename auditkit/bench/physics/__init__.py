"""Formulas that the kinds of bench test compute with, each with its source."""
