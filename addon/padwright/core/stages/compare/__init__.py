"""What was printed, held against what was asked for: distances, shrinkage, bend, weight, and what to correct."""
