"""HTTP service, worker, records, page and command line. Thin: no physics, no SCPI."""
