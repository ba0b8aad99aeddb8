"""Kriging, knowing nothing of lakes: covariance, likelihood, posterior, partition and outliers."""
