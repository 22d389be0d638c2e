"""What discs and end mills can cut, and the floor they leave."""
