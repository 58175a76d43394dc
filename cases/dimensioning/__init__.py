"""Cases whose rim is a measured trace, said in dimensions so that these can be varied."""
