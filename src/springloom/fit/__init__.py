"""From a body and a boat to dimensions, and from a wanted bend to thickness."""
