"""Questions for a class about pictures of set-ups, with answers that are computed, not assumed."""
