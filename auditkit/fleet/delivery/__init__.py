"""What was delivered and what was not: measures of the collection itself."""
