"""The command `gravelbook fit`: scope in sheath, ratio, gap and idealised outflow."""
