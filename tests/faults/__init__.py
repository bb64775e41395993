"""What must survive: killed processes, full disks, broken caches, too little memory."""
