"""Load centers in the modeller."""
