"""The pages that scoring leaves in the class: of every trainee, of the class, of each lab."""
