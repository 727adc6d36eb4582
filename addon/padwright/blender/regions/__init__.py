"""Regions in the modeller."""
