"""The files: 3MF, STL, settings, pictures; all or nothing."""
