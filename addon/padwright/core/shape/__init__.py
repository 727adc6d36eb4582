"""Stages 4 and 5: read the impression and build the pad."""
