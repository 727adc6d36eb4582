"""The load check and tuning in the modeller."""
