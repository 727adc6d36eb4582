"""Where the pad is to be firm and where soft."""
