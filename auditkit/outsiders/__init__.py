"""Asking outsiders over the network: witnesses and time stamp authorities."""
