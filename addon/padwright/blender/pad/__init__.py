"""The pad, and what the artist draws for it."""
