"""Names of pegs as people and spreadsheets write them: which peg is meant. Knows nothing of sheets."""
