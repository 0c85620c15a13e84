"""Reading a job folder: files to a job and all its problems."""

from benchrecord.intake.folder import read_job

__all__ = ["read_job"]
