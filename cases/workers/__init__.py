"""Worker processes, here or on a cluster, and the store that keeps what they solve."""
