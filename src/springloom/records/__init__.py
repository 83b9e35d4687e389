"""Files that people edit and keep: the design file and its schema."""
