"""What the wearer said of each print, and what that teaches for the next."""
