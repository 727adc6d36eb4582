"""Padwright: from two scans to one printable, zoned, flexible part.

Importing this package needs no modeller and no compiled library; stages import what they need when they run.
"""
