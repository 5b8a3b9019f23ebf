"""One module a report: decisions in, the pieces its template shows out."""
