"""The add-on in the modeller: reads the scene, calls the same use cases as a run from a job file, writes back."""
