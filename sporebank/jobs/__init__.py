"""What the keeper does, one module a job: ask core, write through the bank."""
