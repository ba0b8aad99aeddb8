"""What a survey is made of, as frozen records; they read no file and work nothing out."""
