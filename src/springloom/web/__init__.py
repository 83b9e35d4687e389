"""The bench in the browser: pages over the store, and what serves them."""
