"""What the report tells, gathered from the part as it was packed: a file for each of its chapters."""
