"""Stages 1 to 3: read and clean a scan, correct its scale, align impression to base."""
