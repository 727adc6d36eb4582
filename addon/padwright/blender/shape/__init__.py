"""The impression, the pad, and what the artist draws for it."""
