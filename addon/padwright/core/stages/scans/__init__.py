"""Scan files to clean, scaled meshes."""
