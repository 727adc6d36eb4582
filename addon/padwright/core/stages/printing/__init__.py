"""How a part lies on the bed, what it weighs and how long it takes."""
