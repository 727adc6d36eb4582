"""The printed solid: what is left of the pad between its walls, and whether it prints."""
