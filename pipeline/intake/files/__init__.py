"""Finding and reading CSV files: which file is which, their columns, and blank templates."""
