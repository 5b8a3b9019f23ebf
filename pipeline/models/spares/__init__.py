"""What a first delivery leaves, and how often that is made."""
