"""Where folded walls may stand, and what they need to breathe and not to sway."""
