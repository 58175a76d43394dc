"""What is concluded of rims, and which conclusions outlive another lip."""
