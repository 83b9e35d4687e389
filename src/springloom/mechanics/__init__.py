"""What the paddle does under load: beam, set-ups, vibration, strength, mass."""
