"""The job and the cards: keys, their limits, reading and writing TOML; knows no stage."""
