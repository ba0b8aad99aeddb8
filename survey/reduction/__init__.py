"""From readings as written to soundings at datum."""
