"""What pages, cards and files say of a survey, before it is drawn or laid out."""
