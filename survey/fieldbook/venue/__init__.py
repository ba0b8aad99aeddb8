"""What is fixed about a water: settings, floats, outline and pegs."""
