"""The bay's pages: what a browser on the shop's network shows of open repairs."""
