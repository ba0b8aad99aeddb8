"""Files of a venue folder to sheets of text and rings of coordinates."""
