"""The words people read, in the language of the club."""
