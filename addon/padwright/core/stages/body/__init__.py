"""The body itself."""
