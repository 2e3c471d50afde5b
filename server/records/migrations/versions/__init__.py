"""One module a change of the tables, named by what it brings; `down_revision` chains them."""
