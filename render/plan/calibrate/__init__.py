"""What the meter really said, against the plan: corrections of the kit and likely causes."""
