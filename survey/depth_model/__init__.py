"""From soundings to a model of depth: trend, candidate models, bounds, mistakes set aside."""
