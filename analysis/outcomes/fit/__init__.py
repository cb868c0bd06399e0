"""How a scope fits a sheath: sizes, ratio, bands, and the idealised flow through the gap between them."""
