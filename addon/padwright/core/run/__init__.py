"""The list of stages, the run of one part, and what a run tells."""
