"""Stages 10 to 12: regions, print plan, files."""
