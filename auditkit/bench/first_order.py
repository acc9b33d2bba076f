"""The ``uncertainties`` library, by way of what is used of it.

It is loaded with the first uncertain number and not before: where NumPy is installed it
takes as long as a quarter of a whole command.
"""

from uncertainties import ufloat, wrap  # type: ignore[import-untyped]

__all__ = ["ufloat", "wrap"]
