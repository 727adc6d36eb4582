"""What a pressure mat showed: its file, how it lies on the body side, its pressures in color."""
