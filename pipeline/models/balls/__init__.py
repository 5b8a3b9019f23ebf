"""What a ball does: its hook, its strength, and how both and its strikes wear."""
