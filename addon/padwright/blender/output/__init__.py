"""Regions and files from the modeller."""
