"""Results in words and in data, the same for the command line and the browser."""
