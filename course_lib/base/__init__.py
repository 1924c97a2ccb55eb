"""Units of measure, sourced constants, guards that refuse, data files: what knows no vehicle."""
