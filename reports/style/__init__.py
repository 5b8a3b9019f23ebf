"""How reports look and how they write values: colours and words."""
