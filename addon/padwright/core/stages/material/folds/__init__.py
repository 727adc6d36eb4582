"""What a folded wall gives: softness made by shape, from slope, width and height."""
