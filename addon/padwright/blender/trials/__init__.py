"""What the wearer says of each print, and the next print that is proposed from it."""
