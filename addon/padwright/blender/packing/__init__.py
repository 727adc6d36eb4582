"""Files from the modeller."""
