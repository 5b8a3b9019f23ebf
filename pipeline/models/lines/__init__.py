"""Where bowlers play, what the lane asks for that night, and what a line off it costs."""
