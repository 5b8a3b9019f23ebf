"""One module per report: decisions in, the pieces its template shows out."""
