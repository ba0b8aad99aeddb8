"""On which days rows fall: dates whose day and month may be exchanged, held against the rest of the survey."""
