"""What makes the part soft, and folded walls laid out, in the modeller."""
