"""The measure of the verdict: honest jobs and bogus records."""
