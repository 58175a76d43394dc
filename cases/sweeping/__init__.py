"""Many cases from one plan: sampled, solved once each, kept, and asked which rim is wide enough."""
