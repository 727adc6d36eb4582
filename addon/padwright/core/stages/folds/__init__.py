"""Where folded walls may stand."""
