"""The print, scanned, held against the part as asked for."""
