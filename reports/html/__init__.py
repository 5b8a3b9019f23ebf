"""Pages and their pieces as HTML."""
