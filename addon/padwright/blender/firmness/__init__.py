"""Zones, paint and load in the modeller."""
