"""python -m padwright."""
