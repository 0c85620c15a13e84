"""Reading a job folder: files to a job and all its problems."""
