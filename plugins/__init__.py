"""Shop rules, one file for each subject, found by entry points."""
