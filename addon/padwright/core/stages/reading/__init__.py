"""What the body left in the clay."""
