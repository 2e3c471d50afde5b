"""The service over HTTP: the application, who may talk to it, what it tells and takes."""
