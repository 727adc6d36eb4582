"""The pure-Python core: arrays and dataclasses in, frozen results out, no modeller."""
