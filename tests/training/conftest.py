"""What lies here trains; it is run by hand, and needs packages that the project does not."""

collect_ignore_glob = ["*.py"]
