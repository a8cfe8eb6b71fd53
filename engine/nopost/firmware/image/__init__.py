"""What a firmware image is, from its bytes, and which board it was made for."""
