"""Zones and paint in the modeller."""
