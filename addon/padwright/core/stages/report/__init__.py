"""What a person takes away to read, to type from and to keep: report and print sheet."""
