"""What a filament and a fill give: stiffness, settings."""
