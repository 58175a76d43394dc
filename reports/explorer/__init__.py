"""What the live page and the lessons draw: pictures as plain numbers, and the pages that hold them."""
