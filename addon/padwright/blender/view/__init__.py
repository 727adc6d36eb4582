"""What is drawn over the viewport, and values as colors."""
