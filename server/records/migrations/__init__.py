"""How each version of the record became the next. The record runs them itself when it opens an older one."""
