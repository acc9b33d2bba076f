"""What one packet gives a collection: rows of its tables, without their ids. Pure."""
