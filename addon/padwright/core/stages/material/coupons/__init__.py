"""Blocks to print and press, and what their readings say of the material."""
