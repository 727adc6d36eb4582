"""The printed solid: the pad with folded walls inside, and whether it prints."""
