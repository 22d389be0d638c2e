"""What several tests share: made-up parts, tables and runs, and readers of what is written."""
