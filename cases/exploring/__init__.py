"""The live page on this machine: sliders, pictures at once, true solves behind them, lessons."""
