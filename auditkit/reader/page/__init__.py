"""A page that checks a packet offline, in a browser, with nothing installed."""
