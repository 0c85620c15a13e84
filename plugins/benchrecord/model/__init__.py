"""What a job is: frozen, typed, without files."""
