"""Skills compared, and what each bowler should practise."""
