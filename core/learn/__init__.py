"""What a kiln's own tiles teach the reading: other weights, another limit, and the next tiles."""
