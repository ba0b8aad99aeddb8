"""What pages, cards and files show of a survey, before it is drawn or laid out."""
