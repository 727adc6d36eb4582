"""A scan format a file."""
