"""How the scans lie to each other, in the modeller."""
