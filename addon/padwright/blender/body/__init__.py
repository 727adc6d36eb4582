"""The body pressed into virtual clay, in the modeller."""
