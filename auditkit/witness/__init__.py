"""A witness of other people's logs (C2SP tlog-witness v1.0.0): server and client.

A witness keeps the size and root of the last checkpoint that it cosigned of each log,
and cosigns a new one only where that extends the old. ``answer`` decides and is pure,
``state`` remembers, ``serve`` listens, ``ask`` is the other side.
"""
