"""Stages 6 to 9: zones, material, load check, tuning."""
