"""Scans, picking and size in the modeller."""
