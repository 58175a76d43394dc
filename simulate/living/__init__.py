"""The living lip: breath and a contracting ring muscle, and what contraction does under the rim."""
