"""The job: receiver files, the alignment plan, measuring procedures and the numerics. No wire, no threads, no HTTP."""
