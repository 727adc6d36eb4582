"""What every room stands on: meshes, errors, units, words, progress."""
