"""One style for every figure and page: colours, words, shapes, and how they are saved."""
