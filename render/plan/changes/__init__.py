"""What can be changed on lights, in the room and on the camera, as settings of the scene file."""
