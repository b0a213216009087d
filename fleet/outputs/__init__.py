"""What people hold in their hands: calendar feeds, pages, terminal tables and JSON, made from a plan and a fleet."""
