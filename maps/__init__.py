"""What people see: the page, the files, the printed sheets and the command line."""
