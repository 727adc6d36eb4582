"""Scans, picking, size and alignment in the modeller."""
