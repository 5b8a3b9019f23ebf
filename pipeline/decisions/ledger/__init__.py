"""Where the pins went: accounts of every bowler and block that add up, true levels, and costly habits."""
