"""What a pressure mat or a pressed foil showed: its file, how it lies on the body side, its pressures in color."""
