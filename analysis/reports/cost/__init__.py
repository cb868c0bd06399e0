"""The command `gravelbook cost`: cost per stone-free case, its parts, and two groups compared."""
