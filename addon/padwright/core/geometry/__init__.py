"""Rigid motions, nearest points, solids and fields: the tools that every stage shares."""
