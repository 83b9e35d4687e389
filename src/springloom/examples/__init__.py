"""Design files to start from; every person, board and reading in them is invented."""
