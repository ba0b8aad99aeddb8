"""Errors that a whole sheet, observer, day or peg shares, and the mistake that explains them."""
