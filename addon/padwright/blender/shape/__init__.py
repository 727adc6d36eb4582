"""The printed shape of folded walls in the modeller, whole, cut open, or a layer of it."""
