"""Sale days, what they want, and listing."""
