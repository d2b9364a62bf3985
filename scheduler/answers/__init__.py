"""Questions asked of a plan: certificates, remedies, promises, what happened, rebalance, what changed."""
