"""What is typed becomes a question; its answer becomes text, or JSON for a program."""
