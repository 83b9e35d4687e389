"""From readings to what is known of the wood and the blades, and what to plane off next."""
