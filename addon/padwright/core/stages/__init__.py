"""One stage, one room, in the order of the work."""
