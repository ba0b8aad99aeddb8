"""Still drawings: map, fan of casts, cross-section, and the colours and frames they share."""
