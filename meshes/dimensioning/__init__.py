"""A measured or drawn rim said in editable dimensions, with how sure each is and how far off the whole."""
